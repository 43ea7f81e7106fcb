package leads

// trip is what is known of the way from output to input and back.
type trip struct {
	known  bool
	frames float64
	u      float64
}
