package account

import (
	"errors"
	"fmt"
	"strings"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

const tokensShelf = "tokens"

// tokenPrefix lets a person, and a scanner for leaked secrets, tell what the
// text is.
const tokenPrefix = "lentic_"

// ErrNoLabel: a token without a label could not be told from the others when
// one must be revoked.
var ErrNoLabel = errors.New("a token needs a label of 1 to 64 characters")

// Token is what is kept of a bearer token: never its secret.
type Token struct {
	User    string           `json:"user"`
	Label   string           `json:"label"` // what it is for, in the keeper's words
	Created aquarium.Instant `json:"created"`
}

// Issue gives a program a bearer token in the name of an account and with its
// role. The text is returned once and cannot be had again. A label the account
// uses already is ErrExists, an unknown account ErrUnknown.
func Issue(tx ledger.Tx, now aquarium.Instant, user, label string) (string, error) {
	label = strings.TrimSpace(label)
	if label == "" || len(label) > 64 {
		return "", ErrNoLabel
	}
	if _, found, err := Find(tx, user); err != nil || !found {
		return "", errors.Join(err, fmt.Errorf("account %q: %w", user, ErrUnknown))
	}
	held, err := Tokens(tx, user)
	if err != nil {
		return "", err
	}
	for _, t := range held {
		if t.Label == label {
			return "", fmt.Errorf("token %q of account %q: %w", label, user, ErrExists)
		}
	}
	text := tokenPrefix + newSecret()
	return text, tx.Put(tokensShelf, digest(text), Token{User: user, Label: label, Created: now})
}

// Bearer is the account of a bearer token; found is false for one that is
// unknown, revoked or whose account is gone.
func Bearer(tx ledger.Tx, text string) (u User, found bool, err error) {
	var t Token
	found, err = tx.Get(tokensShelf, digest(text), &t)
	if err != nil || !found {
		return User{}, false, err
	}
	return Find(tx, t.User)
}

// Tokens lists an account's tokens, in no order that means anything.
func Tokens(tx ledger.Tx, user string) ([]Token, error) {
	return gather(tx, tokensShelf, func(_ string, t Token) bool { return t.User == user })
}

// Revoke ends the token of that label; ErrUnknown when the account has none.
func Revoke(tx ledger.Tx, user, label string) error {
	n := 0
	err := dropWhere(tx, tokensShelf, func(t Token) bool {
		hit := t.User == user && t.Label == label
		if hit {
			n++
		}
		return hit
	})
	if err == nil && n == 0 {
		err = fmt.Errorf("token %q of account %q: %w", label, user, ErrUnknown)
	}
	return err
}

func dropTokens(tx ledger.Tx, user string) error {
	return dropWhere(tx, tokensShelf, func(t Token) bool { return t.User == user })
}
