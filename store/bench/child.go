package main

import "fmt"

const childFlag = "-child"

func child(name string, args []string) error { return fmt.Errorf("no child %q", name) }
