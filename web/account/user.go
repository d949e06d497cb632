package account

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"unicode/utf8"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
)

// Role is what an account may do.
type Role string

const (
	// Keeper sees every site and may acknowledge, shelve and note visits.
	Keeper Role = "keeper"
	// Viewer sees the sites listed in its account and may do nothing.
	Viewer Role = "viewer"
)

var (
	// ErrExists: there is an account of that name.
	ErrExists = errors.New("an account of that name exists")
	// ErrUnknown: there is no account, session or token of that name.
	ErrUnknown = errors.New("no such account")
)

// MinPassword is the fewest characters of a password: the least that NIST
// SP 800-63B section 5.1.1.2 allows for one chosen by its owner is 8; this page
// may be open to the whole world and guards machines, so it asks for more.
const MinPassword = 10

const maxPassword = 1024 // bytes; bounds the work of hashing

const usersShelf = "accounts"

// User is one account.
type User struct {
	Name     string            `json:"name"` // an id, as those of the configuration
	Role     Role              `json:"role"`
	Sites    []aquarium.SiteID `json:"sites,omitempty"` // what a viewer may see
	Password Hash              `json:"password"`
	Created  aquarium.Instant  `json:"created"`
}

// New makes an account; it is kept by Add. The error says what is wrong with
// the name, the password, the role or the sites.
func New(now aquarium.Instant, name, password string, role Role, sites []aquarium.SiteID) (User, error) {
	if err := aquarium.CheckID(name); err != nil {
		return User{}, fmt.Errorf("account name: %w", err)
	}
	switch role {
	case Keeper:
		if len(sites) > 0 {
			return User{}, fmt.Errorf("account %q: a keeper sees every site: list sites for a viewer only", name)
		}
	case Viewer:
		if len(sites) == 0 {
			return User{}, fmt.Errorf("account %q: a viewer without sites sees nothing: list at least one", name)
		}
	default:
		return User{}, fmt.Errorf("account %q: role %q: want %s or %s", name, role, Keeper, Viewer)
	}
	h, err := NewHash(password)
	if err != nil {
		return User{}, fmt.Errorf("account %q: %w", name, err)
	}
	return User{Name: name, Role: role, Sites: slices.Clone(sites), Password: h, Created: now}, nil
}

func checkPassword(p string) error {
	switch n := utf8.RuneCountInString(p); {
	case !utf8.ValidString(p):
		return errors.New("the password is not valid UTF-8")
	case n < MinPassword:
		return fmt.Errorf("the password has %d characters: at least %d are needed", n, MinPassword)
	case len(p) > maxPassword:
		return fmt.Errorf("the password has %d bytes: at most %d are allowed", len(p), maxPassword)
	}
	return nil
}

// Sees reports whether the account may know anything of that site. What
// belongs to no site, as lentic's own alarms, is for keepers.
func (u User) Sees(s aquarium.SiteID) bool {
	return u.Role == Keeper || u.Role == Viewer && s != "" && slices.Contains(u.Sites, s)
}

// Acts reports whether the account may change anything.
func (u User) Acts() bool { return u.Role == Keeper }

// Add keeps a new account, ErrExists when the name is taken.
func Add(tx ledger.Tx, u User) error {
	_, found, err := Find(tx, u.Name)
	if err != nil {
		return err
	}
	if found {
		return fmt.Errorf("account %q: %w", u.Name, ErrExists)
	}
	return tx.Put(usersShelf, u.Name, u)
}

// Find is the account of that name; none is not an error.
func Find(tx ledger.Tx, name string) (User, bool, error) {
	var u User
	found, err := tx.Get(usersShelf, name, &u)
	if err != nil {
		return User{}, false, fmt.Errorf("read account %q: %w", name, err)
	}
	return u, found, nil
}

// SetPassword replaces an account's password and ends its sessions, for a new
// password is often set because somebody else had the old one. Its bearer
// tokens stay: they are revoked by name.
func SetPassword(tx ledger.Tx, name string, h Hash) error {
	u, found, err := Find(tx, name)
	if err != nil {
		return err
	}
	if !found {
		return fmt.Errorf("account %q: %w", name, ErrUnknown)
	}
	u.Password = h
	if err := tx.Put(usersShelf, name, u); err != nil {
		return err
	}
	return dropSessions(tx, name)
}

// Remove deletes an account with its sessions and tokens; ErrUnknown when
// there is none.
func Remove(tx ledger.Tx, name string) error {
	_, found, err := Find(tx, name)
	if err != nil {
		return err
	}
	if !found {
		return fmt.Errorf("account %q: %w", name, ErrUnknown)
	}
	if err := dropSessions(tx, name); err != nil {
		return err
	}
	if err := dropTokens(tx, name); err != nil {
		return err
	}
	return tx.Delete(usersShelf, name)
}

// All lists the accounts by name.
func All(tx ledger.Tx) ([]User, error) {
	return gather[User](tx, usersShelf, func(string, User) bool { return true })
}

// Any reports whether there is at least one account: from then on nobody is
// let in without one.
func Any(tx ledger.Tx) (bool, error) {
	found := false
	err := tx.Each(usersShelf, "", "", func(string, []byte) bool {
		found = true
		return false
	})
	return found, err
}

// gather decodes the documents of a shelf that keep wants, in the order of
// their keys.
func gather[T any](tx ledger.Tx, shelf string, keep func(key string, v T) bool) ([]T, error) {
	var out []T
	var bad error
	err := tx.Each(shelf, "", "", func(key string, doc []byte) bool {
		var v T
		if err := json.Unmarshal(doc, &v); err != nil {
			bad = fmt.Errorf("read %s %q: %w", shelf, key, err)
			return false
		}
		if keep(key, v) {
			out = append(out, v)
		}
		return true
	})
	return out, errors.Join(err, bad)
}
