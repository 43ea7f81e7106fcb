// Package known keeps in mind which sound device was used last, and on which devices somebody has agreed to hear a tone,
// so that they are asked once.
//
// It is one small JSON file in the user's folder for settings:
//
//	{
//	 "schema": "breakcue.known/1",
//	 "last": "cable",
//	 "confirmed": [
//	  "cable"
//	 ]
//	}
//
// Forgetting is harmless (somebody is asked once more), agreeing for somebody is not: what cannot be read counts as
// empty.
package known
