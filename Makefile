# Each target does all it needs: `make demo` and `make test` are good first commands after cloning.
# .ci/with runs a command with live audio switched on or off, whichever this machine can build.

GO = .ci/with go
FUZZTIME = 10s

.PHONY: setup demo build test test-live soak bench fuzz lint

setup: # what live audio needs, where it can be had
	@.ci/setup

build: setup # leaves bin/breakcue
	$(GO) build -o bin/breakcue ./cmd/breakcue

demo: build # the whole job on the built-in bench, without a sound card
	bin/breakcue demo

test: setup
	$(GO) vet ./... ./testdata/corpus/...
	$(GO) test ./...

test-live: setup # the live path for real, on a sound server that needs no sound card; one package at a time on it
	.ci/with .ci/live go test -tags live_test -run Live -count=1 -p 1 ./audio/live ./cmd/...

soak: setup # hours of sound without an opening; the table of coverage; sessions killed and disks full, 500 times each; then half an hour live: every edge, memory, CPU, and the way from the sound card to the screen
	$(GO) test -tags soak -run Hours -count=1 -v -timeout 60m ./cmd/internal/pump ./detect ./timing/handturn
	$(GO) test -tags soak -run 'Killed|FullDisk' -count=1 -v -timeout 60m ./cmd/internal/cli
	.ci/with .ci/live go test -tags live_test,soak -run LiveSoak -count=1 -v -timeout 60m ./cmd/internal/cli

bench: setup
	$(GO) test -run '^$$' -bench . -benchmem ./...

fuzz: setup # each fuzz target for FUZZTIME
	.ci/with .ci/fuzz $(FUZZTIME)

lint: setup
	.ci/with .ci/lint
