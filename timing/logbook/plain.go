package logbook

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
)

// plainly says what is wrong with JSON to people who know files, and no library.
func plainly(err error) error {
	var syntax *json.SyntaxError
	var other *json.UnmarshalTypeError
	switch {
	case err == nil:
		return nil
	case errors.Is(err, io.ErrUnexpectedEOF), errors.As(err, &syntax) && strings.HasPrefix(syntax.Error(), "unexpected end"):
		return errors.New("it ends in the middle")
	case errors.As(err, &syntax):
		return fmt.Errorf("byte %d cannot stand where it does", syntax.Offset)
	case errors.As(err, &other) && other.Field == "":
		return fmt.Errorf("it is %s", jsonWord(other.Value))
	case errors.As(err, &other):
		return fmt.Errorf("field %q, got %s, want %s", strings.TrimPrefix(other.Field, "Edge."), jsonWord(other.Value), wanted(other.Type))
	}
	if name, ok := strings.CutPrefix(err.Error(), "json: unknown field "); ok {
		return fmt.Errorf("there is no field %s", name)
	}
	return err
}

// jsonWord is a kind of value in plain words; encoding/json says "string", "number", "number 1.5", "object", "array" or "bool".
func jsonWord(value string) string {
	switch word, figure, _ := strings.Cut(value, " "); word {
	case "string":
		return "text"
	case "bool":
		return "true or false"
	case "array":
		return "a list"
	case "object":
		return "an object"
	case "number":
		return strings.TrimSpace("the number " + figure)
	}
	return value
}

// wanted is what a field takes, in plain words.
func wanted(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "text"
	case reflect.Float64:
		return "a number"
	case reflect.Int, reflect.Int64:
		return "a whole number"
	}
	return "an object"
}
