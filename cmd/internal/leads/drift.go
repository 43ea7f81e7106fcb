package leads

import "breakcue/detect"

// Drift compares the levels that a detector follows with those of the profile, and says what has moved since the check: the levels of
// either state, the distance between them, and the noise. Hum is that of now [full scale], negative where it is not known. Where nothing has
// moved the only finding is "steady".
func Drift(p Profile, now detect.Levels, hum float64) []Finding { return nil }
