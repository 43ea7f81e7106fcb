// Package profiles keeps what a check of a cable found, so that who listens afterwards need not learn the levels: one small JSON file for each
// sound device and wiring, in the folder "cables" beside the file of package known.
//
//	{
//	 "schema": "breakcue.cable/1",
//	 "device": "line box",
//	 "channel": 1,
//	 "profile": {"schema": "breakcue.leads/1", ...}
//	}
//
// Forgetting is harmless: the levels are learnt from the sound. What cannot be read is moved aside, and told.
package profiles
