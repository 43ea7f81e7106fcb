/*
 * A cable with contacts in it, as a client of a JACK server: what is played to its input comes back from its output, muted on
 * a schedule of frames. Built and used by the live tests.
 *
 * Usage: cable [OPTION...] NAME FIRST PERIOD OPENLEN COUNT
 *
 * The points open for OPENLEN frames at FIRST, FIRST+PERIOD, ..., COUNT times; with COUNT 0 they stay closed. Frames are
 * counted in the sound itself, so that whoever plays it knows them too: the first sample that is not 0 is frame 1,
 * because a tone begins with a sample of 0. After a rest of 0.1 s of zeros the schedule begins anew with the next tone.
 * SIGUSR1 opens the points whatever the schedule, SIGUSR2 leaves them to it again: then they are closed before FIRST.
 *
 *   -g DB    gain while closed (default 0)
 *   -l DB    gain while open, as capacitance and crosstalk leave (default: silence)
 *   -n DBFS  adds white noise of this level, relative to a full-scale sine
 *   -2       two ports each way: the second is passed on as it comes
 *   -x DB    with -2: leaks the second input into the first output, as a bad lead does with the alert
 *   -s LATER a second set of points: two ports each way; what comes to the second input goes through points that open and close so many
 *            frames later than the first, and is added to the first output
 *
 * Prints "ready RATE FRAMES_PER_CYCLE" when its ports are there and "start FRAME" (of the server) whenever the schedule begins.
 * Ends on SIGTERM or SIGINT after leaving the server in good order, or with status 1 when the server ends.
 */
#include <jack/jack.h>
#include <math.h>
#include <signal.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static jack_port_t *in[2], *out[2];
static int ports = 1;
static long long first, period, openlen, count, later = -1;
static float closed = 1, opened, leak, noise;

/* Written by the process callback, read by main. */
static volatile sig_atomic_t starts, server_gone, asked_to_end;
static volatile jack_nframes_t started_at;

/* Read by the process callback. */
static volatile sig_atomic_t held_open;

static float gain_of(const char *db) { return powf(10, (float)atof(db) / 20); }

static int is_open(long long frame) {
	long long since = frame - first;
	return since >= 0 && since / period < count && since % period < openlen;
}

static float hiss(void) { /* uniform in -1..1, whose RMS is 1/sqrt(3) */
	static uint32_t state = 1;
	state = state * 1664525 + 1013904223;
	return (float)((int32_t)state / 2147483648.0);
}

static int process(jack_nframes_t n, void *client) {
	static long long frame = -1; /* of the schedule; -1 before it begins */
	static jack_nframes_t rest;
	const float *a = jack_port_get_buffer(in[0], n);
	const float *b = ports == 2 ? jack_port_get_buffer(in[1], n) : NULL;
	float *y = jack_port_get_buffer(out[0], n);
	jack_nframes_t patience = jack_get_sample_rate(client) / 10;
	for (jack_nframes_t i = 0; i < n; i++) {
		rest = a[i] == 0 ? rest + 1 : 0;
		if (rest >= patience)
			frame = -1;
		if (frame >= 0)
			frame++;
		else if (a[i] != 0) {
			frame = 1;
			started_at = jack_last_frame_time(client) + i - 1;
			starts++;
		}
		y[i] = a[i] * (held_open || is_open(frame) ? opened : closed);
		if (noise > 0)
			y[i] += noise * hiss();
		if (b && later >= 0)
			y[i] += b[i] * (is_open(frame - later) ? opened : closed);
		else if (b)
			y[i] += leak * b[i];
	}
	if (b && later >= 0)
		memset(jack_port_get_buffer(out[1], n), 0, n * sizeof *b);
	else if (b)
		memcpy(jack_port_get_buffer(out[1], n), b, n * sizeof *b);
	return 0;
}

static void on_shutdown(void *unused) {
	(void)unused;
	server_gone = 1;
}

static void on_signal(int unused) {
	(void)unused;
	asked_to_end = 1;
}

static void on_user(int which) { held_open = which == SIGUSR1; }

static void usage(void) {
	fprintf(stderr, "usage: cable [-g DB] [-l DB] [-n DBFS] [-2] [-x DB] [-s LATER] NAME FIRST PERIOD OPENLEN COUNT\n");
	exit(2);
}

int main(int argc, char **argv) {
	int c;
	while ((c = getopt(argc, argv, "g:l:n:2x:s:")) != -1) {
		switch (c) {
		case 'g': closed = gain_of(optarg); break;
		case 'l': opened = gain_of(optarg); break;
		case 'n': noise = gain_of(optarg) * sqrtf(1.5f); break; /* a sine of amplitude 1 has an RMS of 1/sqrt(2) */
		case '2': ports = 2; break;
		case 'x': leak = gain_of(optarg); break;
		case 's': ports = 2; later = atoll(optarg); break;
		default: usage();
		}
	}
	if (argc - optind != 5)
		usage();
	const char *name = argv[optind];
	first = atoll(argv[optind + 1]);
	period = atoll(argv[optind + 2]);
	openlen = atoll(argv[optind + 3]);
	count = atoll(argv[optind + 4]);
	if (period < 1 || openlen < 0 || openlen > period)
		usage();

	signal(SIGTERM, on_signal);
	signal(SIGINT, on_signal);
	signal(SIGUSR1, on_user);
	signal(SIGUSR2, on_user);
	jack_client_t *client = jack_client_open(name, JackNoStartServer | JackUseExactName, NULL);
	if (!client) {
		fprintf(stderr, "cable: no JACK server, or the name %s is taken\n", name);
		return 1;
	}
	for (int i = 0; i < ports; i++) {
		char port[16];
		snprintf(port, sizeof port, "in_%d", i + 1);
		in[i] = jack_port_register(client, port, JACK_DEFAULT_AUDIO_TYPE, JackPortIsInput, 0);
		snprintf(port, sizeof port, "out_%d", i + 1);
		out[i] = jack_port_register(client, port, JACK_DEFAULT_AUDIO_TYPE, JackPortIsOutput, 0);
		if (!in[i] || !out[i]) {
			fprintf(stderr, "cable: no more ports to be had\n");
			return 1;
		}
	}
	jack_set_process_callback(client, process, client);
	jack_on_shutdown(client, on_shutdown, NULL);
	if (jack_activate(client)) {
		fprintf(stderr, "cable: the server does not take the client\n");
		return 1;
	}
	printf("ready %u %u\n", jack_get_sample_rate(client), jack_get_buffer_size(client));
	fflush(stdout);
	for (sig_atomic_t told = 0; !asked_to_end && !server_gone; usleep(10000)) {
		if (told != starts) {
			told = starts;
			printf("start %u\n", started_at);
			fflush(stdout);
		}
	}
	if (server_gone)
		_exit(1);
	jack_client_close(client);
	return 0;
}
