#!/bin/sh
# Makes the recordings of this folder and their truth files anew, with programs that share no code with breakcue.
# Needs ebook2cw, sox, ffmpeg and espeak-ng (Debian: apt-get install ebook2cw sox ffmpeg espeak-ng).
set -eu
cd "$(dirname "$0")"
tmp=$(mktemp -d)
trap 'rm -rf "$tmp"' EXIT

# truth NAME RATE STRETCHES writes NAME.json. STRETCHES are lengths in frames, in order, those without tone with a minus.
truth() {
	echo "$3" | awk -v name="$1" -v rate="$2" '{
		printf "{\"file\":\"%s.wav\",\"sample_rate\":%d,\"tone_hz\":1000,\"wiring\":\"series\",\"edges\":[", name, rate
		for (i = 1; i <= NF; i++) {
			if (i > 1) printf "%s\n {\"kind\":\"%s\",\"sample\":%d}", (i > 2 ? "," : ""), ($i > 0 ? "close" : "open"), at
			at += $i > 0 ? $i : -$i
		}
		printf "\n],\"frames\":%d}\n", at
	}' > "$1.json"
}

# Keyed tone: the word BREAK at 20 words a minute. A unit is 1.2 s / 20 = 960 frames; a dash is 3, the gap in a letter 1,
# between letters 3. ebook2cw begins with 0.1 s of silence.
echo BREAK > "$tmp/word.txt"
ebook2cw -w 20 -f 1000 -s 16000 -R 1 -F 1 -p -c '' -O -q 5 -o "$tmp/morse" "$tmp/word.txt" > "$tmp/log"
ffmpeg -v error -y -i "$tmp/morse.ogg" -ac 1 -c:a pcm_s16le -bitexact morse.wav
stretches=$(echo '-... .-. . .- -.-' | awk '{
	printf "-1600"
	at = 1600
	for (i = 1; i <= length($0); i++) {
		c = substr($0, i, 1)
		if (c == " ") { gap = 3; continue }
		if (i > 1) { printf " -%d", gap * 960; at += gap * 960 }
		n = (c == "-" ? 3 : 1) * 960
		printf " %d", n
		at += n
		gap = 1
	}
	printf " -%d", 49600 - at
}')
truth morse 16000 "$stretches"

# gate NAME PHASE STRETCHES writes NAME.wav: tone and digital silence in turn, at 48 kHz. With PHASE "on" the tone is one that
# goes on behind the contacts; with "anew" each stretch starts at its crest, as when pieces are joined in an editor.
gate() {
	parts=''
	at=0
	for n in $3; do
		part=$tmp/$1.$at.wav
		parts="$parts $part"
		case $n:$2 in
		-*) sox -D -R -r 48000 -b 16 -c 1 -n "$part" trim 0 "${n#-}s" ;;
		*:on) sox -D -R -r 48000 -b 16 -c 1 -n "$part" synth "${n}s" sine 1000 0 "$(echo $at | awk '{ print (25 + $1 % 48 / 0.48) % 100 }')" gain -12 ;;
		*:anew) sox -D -R -r 48000 -b 16 -c 1 -n "$part" synth "${n}s" sine 1000 0 25 gain -12 ;;
		esac
		at=$((at + ${n#-}))
	done
	# shellcheck disable=SC2086 # a list of files without spaces
	sox -D $parts -t wav "$1.wav"
	truth "$1" 48000 "$3"
}

# Gated tone. The lengths, in frames, are such that no edge lies near a zero of the sine: every edge can be told to the frame.
gate gated on '28811 -9605 12007 -4803 14413 -7207 9617 -19207 24001'
gate gated_anew anew '28811 -9601 12007 -4803 14411 -7207 9617 -19207 24001'

# The first of them with white noise 40 dB below the tone: sox's has an RMS of 0.577 before the gain.
sox -D -R -r 48000 -b 16 -c 1 -n "$tmp/noise.wav" synth 129671s whitenoise gain -50.2
sox -D -m -v 1 gated.wav -v 1 "$tmp/noise.wav" -b 16 gated_noise.wav
sed s/gated.wav/gated_noise.wav/ gated.json > gated_noise.json

# To be refused: a voice, plucked strings, a steady tone, silence.
espeak-ng -v en -s 150 -w "$tmp/voice.wav" 'The points open just before the piston reaches the top.'
sox -D -R "$tmp/voice.wav" -r 16000 -b 16 voice.wav
sox -D -R -r 48000 -b 16 -c 1 -n "$tmp/strings.wav" synth 3 pluck E2 pluck A2 pluck D3 pluck G3 pluck B3 fade 0 3 0.2 gain -6
sox -D -R "$tmp/strings.wav" -r 16000 -b 16 strings.wav
sox -D -R -r 16000 -b 16 -c 1 -n steady.wav synth 2 sine 1000 gain -12
sox -D -R -r 16000 -b 16 -c 1 -n silence.wav trim 0 2
