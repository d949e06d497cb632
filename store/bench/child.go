package main

import "fmt"

// childFlag makes the program one of its own children: what a measure needs
// in a process of its own.
const childFlag = "-child"

func child(name string, args []string) error {
	switch name {
	case "commit":
		return commitInTurn(args)
	case "import":
		return importHistory(args)
	}
	return fmt.Errorf("no child %q", name)
}
