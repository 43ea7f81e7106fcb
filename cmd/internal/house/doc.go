// Package house holds no code: its tests keep the rules of the house, such as which package may import which.
package house
