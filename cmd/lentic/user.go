package main

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"strings"

	"golang.org/x/term"

	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

type userCommand struct {
	Add      userAdd      `cmd:"" help:"Make an account; the password is asked for, or read from standard input."`
	Password userPassword `cmd:"" help:"Give an account a new password, asked for likewise, and sign it out everywhere."`
	List     userList     `cmd:"" help:"List the accounts and their tokens."`
	Remove   userRemove   `cmd:"" help:"Remove an account with its sessions and tokens."`
	Token    userToken    `cmd:"" help:"Give a program a bearer token in the name of an account; it is printed once."`
	Revoke   userRevoke   `cmd:"" help:"Take a bearer token back by its label."`
}

type userAdd struct {
	configured
	Name string            `arg:"" help:"The account's name."`
	Role string            `default:"keeper" enum:"keeper,viewer" help:"keeper sees and does everything; viewer sees the sites listed."`
	Site []aquarium.SiteID `help:"A site the viewer sees; may be repeated."`
}

func (c *userAdd) Run(b *base) error {
	password, err := askPassword()
	if err != nil {
		return daemon.UsageError("password: %v", err)
	}
	return c.call(b, "user-add", daemon.UserArgs{Name: c.Name, Password: password, Role: c.Role, Sites: c.Site}, nil, os.Stdout)
}

type userPassword struct {
	configured
	Name string `arg:"" help:"The account's name."`
}

func (c *userPassword) Run(b *base) error {
	password, err := askPassword()
	if err != nil {
		return daemon.UsageError("password: %v", err)
	}
	return c.call(b, "user-password", daemon.UserArgs{Name: c.Name, Password: password}, nil, os.Stdout)
}

// askPassword reads a password without showing it; piped, it is one line.
func askPassword() (string, error) {
	fd := int(os.Stdin.Fd())
	if !term.IsTerminal(fd) {
		line, err := bufio.NewReader(os.Stdin).ReadString('\n')
		if line == "" && err != nil {
			return "", errors.New("want it on standard input, one line")
		}
		return strings.TrimRight(line, "\r\n"), nil
	}
	fmt.Fprint(os.Stderr, "Password: ")
	first, err := term.ReadPassword(fd)
	fmt.Fprintln(os.Stderr)
	if err != nil {
		return "", err
	}
	fmt.Fprint(os.Stderr, "Again: ")
	again, err := term.ReadPassword(fd)
	fmt.Fprintln(os.Stderr)
	if err != nil {
		return "", err
	}
	if string(first) != string(again) {
		return "", errors.New("the two differ")
	}
	return string(first), nil
}

type userList struct{ configured }

func (c *userList) Run(b *base) error {
	return c.call(b, "user-list", daemon.UserArgs{}, nil, os.Stdout)
}

type userRemove struct {
	configured
	Name string `arg:"" help:"The account's name."`
}

func (c *userRemove) Run(b *base) error {
	return c.call(b, "user-remove", daemon.UserArgs{Name: c.Name}, nil, os.Stdout)
}

type userToken struct {
	configured
	Name  string `arg:"" help:"The account's name."`
	Label string `required:"" help:"What it is for, as it will be listed."`
}

func (c *userToken) Run(b *base) error {
	return c.call(b, "user-token", daemon.UserArgs{Name: c.Name, Label: c.Label}, nil, os.Stdout)
}

type userRevoke struct {
	configured
	Name  string `arg:"" help:"The account's name."`
	Label string `required:"" help:"The token's label, as it is listed."`
}

func (c *userRevoke) Run(b *base) error {
	return c.call(b, "user-revoke", daemon.UserArgs{Name: c.Name, Label: c.Label}, nil, os.Stdout)
}
