// Command make writes the recordings of the corpus as 16-bit WAV files, each with its truth beside it as JSON.
//
//	go run ./testdata/corpus/make FOLDER [NAME...]
//
// Without names all are made: some 500 MB.
package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"

	"breakcue/testdata/corpus"
)

func main() {
	if len(os.Args) < 2 {
		fmt.Fprintln(os.Stderr, "usage: go run ./testdata/corpus/make FOLDER [NAME...]\n\nThe recordings:")
		for _, r := range corpus.Recipes() {
			fmt.Fprintf(os.Stderr, "  %-12s %s\n", r.Name, r.Doc)
		}
		os.Exit(2)
	}
	if err := run(os.Args[1], os.Args[2:]); err != nil {
		fmt.Fprintln(os.Stderr, "make:", err)
		os.Exit(1)
	}
}

func run(folder string, names []string) error {
	recipes := corpus.Recipes()
	if len(names) > 0 {
		recipes = nil
		for _, name := range names {
			r, err := corpus.Find(name)
			if err != nil {
				return err
			}
			recipes = append(recipes, r)
		}
	}
	if err := os.MkdirAll(folder, 0o777); err != nil {
		return err
	}
	for _, r := range recipes {
		err := write(folder, r)
		if missing := (*exec.Error)(nil); errors.As(err, &missing) {
			fmt.Printf("%s: left out: %v\n", r.Name, err)
			continue
		}
		if err != nil {
			return err
		}
		fmt.Println(r.Name)
	}
	return nil
}

func write(folder string, r corpus.Recipe) error {
	t, err := r.Render()
	if err != nil {
		return err
	}
	_, err = t.WriteFiles(folder)
	return err
}
