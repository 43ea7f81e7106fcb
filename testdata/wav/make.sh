#!/bin/sh
# Renews the files in this folder. Needs perl, sox and ffmpeg. The commands are explained in README.md.
set -eu
cd "$(dirname "$0")"
raw=$(mktemp -d)
trap 'rm -rf "$raw"' EXIT

# Raw ramps of 300 frames: frame i, channel c, as in README.md.
ramp() { # NAME CHANNELS PACK FORMULA
	perl -e 'my ($ch, $pack, $f) = @ARGV; binmode STDOUT; my $sub = eval "sub { my (\$i, \$c) = \@_; $f }" or die $@;
		for my $i (0 .. 299) { for my $c (0 .. $ch - 1) {
			print $pack eq "s24" ? substr(pack("l<", $sub->($i, $c)), 0, 3) : pack($pack, $sub->($i, $c)) } }' \
		"$2" "$3" "$4" >"$raw/$1"
}
u8='($i + 17*$c) % 256'
s16='($i*257 + $c*4099) % 65536 - 32768'
s24='($i*65793 + $c*1049603) % 16777216 - 8388608'
s32='($i*16843009 + $c*268698115) % 4294967296 - 2147483648'
flt='($i - 150)/256 + $c/4096'
ramp u8x1 1 C "$u8"
ramp s16x1 1 's<' "$s16"; ramp s16x2 2 's<' "$s16"; ramp s16x6 6 's<' "$s16"
ramp s24x1 1 s24 "$s24"; ramp s24x2 2 s24 "$s24"; ramp s24x8 8 s24 "$s24"
ramp s32x1 1 'l<' "$s32"; ramp s32x3 3 'l<' "$s32"
ramp f32x1 1 'f<' "$flt"; ramp f32x2 2 'f<' "$flt"; ramp f64x1 1 'd<' "$flt"

# sox RAW ENCODING BITS CHANNELS RATE OUT
s() { sox -D -t raw -e "$2" -b "$3" -c "$4" -r "$5" "$raw/$1" -e "$2" -b "$3" "$6"; }
s u8x1 unsigned-integer 8 1 8000 sox_u8_1ch_8k.wav
s s16x1 signed-integer 16 1 44100 sox_s16_1ch_44k.wav
s s16x2 signed-integer 16 2 48000 sox_s16_2ch_48k.wav
s s16x6 signed-integer 16 6 16000 sox_s16_6ch_16k.wav
s s24x2 signed-integer 24 2 96000 sox_s24_2ch_96k.wav
s s32x1 signed-integer 32 1 192000 sox_s32_1ch_192k.wav
s f32x1 floating-point 32 1 48000 sox_f32_1ch_48k.wav
s f64x1 floating-point 64 1 22050 sox_f64_1ch_22k.wav
cat "$raw/s16x1" | sox -D -t raw -e signed-integer -b 16 -c 1 -r 44100 - -t wav - 2>/dev/null | cat >sox_pipe_s16_1ch_44k.wav
sox -D -t raw -e signed-integer -b 16 -c 1 -r 8000 "$raw/s16x1" -e a-law sox_alaw.wav
sox -D -t raw -e signed-integer -b 16 -c 1 -r 8000 "$raw/s16x1" -e ima-adpcm sox_ima_adpcm.wav

# ffmpeg RAW FORMAT CHANNELS RATE OUT OPTIONS...
f() {
	in=$1 fmt=$2 ch=$3 rate=$4 out=$5
	shift 5
	ffmpeg -nostdin -loglevel error -y -f "$fmt" -ac "$ch" -ar "$rate" -i "$raw/$in" -c:a copy "$@" "$out"
}
f u8x1 u8 1 11025 ffmpeg_u8_1ch_11k.wav
f s16x2 s16le 2 44100 ffmpeg_s16_2ch_44k_tags.wav -metadata title='Bench 1' -metadata artist=nobody
f s24x1 s24le 1 176400 ffmpeg_s24_1ch_176k.wav
f s24x8 s24le 8 48000 ffmpeg_s24_8ch_48k.wav
f s32x3 s32le 3 88200 ffmpeg_s32_3ch_88k.wav
f f32x2 f32le 2 32000 ffmpeg_f32_2ch_32k.wav
f f64x1 f64le 1 48000 ffmpeg_f64_1ch_48k.wav
f s16x2 s16le 2 48000 ffmpeg_rf64_s16_2ch_48k.wav -rf64 always
f s16x1 s16le 1 44100 - -f wav | cat >ffmpeg_pipe_s16_1ch_44k.wav
f s16x1 s16le 1 44100 - -f wav -rf64 always | cat >ffmpeg_pipe_rf64_s16_1ch_44k.wav
f s16x1 s16le 1 22050 ffmpeg_ms_adpcm.wav -c:a adpcm_ms
f s16x1 s16le 1 8000 ffmpeg_mulaw.wav -c:a pcm_mulaw
