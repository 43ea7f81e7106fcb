// Package logbook keeps the journal of a session: what was set up, heard, typed and worked out, in the order in which it
// happened.
//
// A session is a folder. In it, journal.jsonl holds one JSON object a line:
//
//	{"schema":"breakcue.journal/1","seq":3,"time":"2026-05-04T10:11:12.345+02:00","kind":"reading","data":{…}}
//
// The file is only ever added to, and each entry is on the disk before Append returns. A correction is a new entry, Amend;
// the entry that it corrects stays as it was. A damaged line costs that line alone.
//
// Writer adds entries and is the only one to do so while it is open. Read gives a Journal, List one Summary for each
// session. Units are in the names of the fields: _s seconds; a frame is one sample of each channel, counted from 0.
package logbook
