package timing

import "fmt"

// FieldError says which of the values given is out of its range, what it was and what is allowed.
type FieldError struct {
	Field     string // in words: "pin offset"
	Got, Want string
}

// Error implements error.
func (e *FieldError) Error() string {
	return fmt.Sprintf("timing: %s, got %s, want %s", e.Field, e.Got, e.Want)
}

// wrong returns a FieldError; want is a format for args.
func wrong(field, got, want string, args ...any) error {
	return &FieldError{Field: field, Got: got, Want: fmt.Sprintf(want, args...)}
}

func mm(l Length) string { return fmt.Sprintf("%g mm", float64(l)) }

func deg(a Angle) string { return fmt.Sprintf("%g°", float64(a)) }
