package account_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/store/storetest"
	"lentic/web/account"
)

const noon = aquarium.Instant(1_930_000_000_000)

func update(t *testing.T, l ledger.Ledger, fn func(tx ledger.Tx) error) {
	t.Helper()
	if err := l.Update(fn); err != nil {
		t.Fatal(err)
	}
}

func withKeeper(t *testing.T) ledger.Ledger {
	t.Helper()
	l := storetest.NewLedger()
	u, err := account.New(noon, "keeper", "moss on old stone", account.Keeper, nil)
	if err != nil {
		t.Fatal(err)
	}
	update(t, l, func(tx ledger.Tx) error { return account.Add(tx, u) })
	return l
}

func TestNewRefuses(t *testing.T) {
	site := []aquarium.SiteID{"quillmere-library"}
	for _, c := range []struct {
		name, user, password string
		role                 account.Role
		sites                []aquarium.SiteID
		want                 string
	}{
		{"bad name", "Keeper One", "moss on old stone", account.Keeper, nil, "account name"},
		{"short password", "keeper", "short", account.Keeper, nil, "at least 10"},
		{"endless password", "keeper", strings.Repeat("x", 2000), account.Keeper, nil, "at most 1024"},
		{"unknown role", "keeper", "moss on old stone", "owner", nil, "want keeper or viewer"},
		{"keeper with sites", "keeper", "moss on old stone", account.Keeper, site, "sees every site"},
		{"viewer without sites", "client", "moss on old stone", account.Viewer, nil, "at least one"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := account.New(noon, c.user, c.password, c.role, c.sites)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v, want an error with %q", err, c.want)
			}
			if err != nil && strings.Contains(err.Error(), c.password) {
				t.Error("the error shows the password")
			}
		})
	}
}

func TestHash(t *testing.T) {
	h, err := account.NewHash("moss on old stone")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(h), "$argon2id$v=19$m=19456,t=2,p=1$") {
		t.Errorf("got %s", h)
	}
	if !h.Matches("moss on old stone") || h.Matches("moss on old stones") {
		t.Error("the hash tells the wrong password from the right one wrongly")
	}
	for _, bad := range []account.Hash{"", "$argon2id$", "$argon2i$v=19$m=19456,t=2,p=1$AAAA$AAAA",
		"$argon2id$v=19$m=4294967295,t=2,p=1$AAAAAAAAAAAAAAAAAAAAAA$AAAAAAAAAAAAAAAAAAAAAA"} {
		if bad.Matches("") {
			t.Errorf("%q matches", bad)
		}
	}
}

func TestSessionLife(t *testing.T) {
	l := withKeeper(t)
	var first, second string
	update(t, l, func(tx ledger.Tx) (err error) {
		first, err = account.Begin(tx, noon, "keeper")
		return err
	})
	alive := func(secret string, at aquarium.Instant) bool {
		var ok bool
		if err := l.View(func(tx ledger.Tx) (err error) {
			_, _, ok, err = account.Resume(tx, at, secret)
			return err
		}); err != nil {
			t.Fatal(err)
		}
		return ok
	}
	if !alive(first, noon.Add(account.Idle-time.Second)) || alive(first, noon.Add(account.Idle)) || alive("", noon) || alive("guess", noon) {
		t.Error("a session does not live exactly as long as it may")
	}
	later := noon.Add(account.Fresh)
	update(t, l, func(tx ledger.Tx) (err error) {
		second, err = account.Renew(tx, later, first)
		return err
	})
	if !alive(first, later.Add(30*time.Second)) || alive(first, later.Add(time.Minute)) || !alive(second, later.Add(time.Hour)) {
		t.Error("renewing must end the old secret within a minute, and not at once")
	}
	if err := l.Update(func(tx ledger.Tx) error { _, err := account.Renew(tx, later, first); return err }); !errors.Is(err, account.ErrUnknown) {
		t.Errorf("renewing twice: got %v, want ErrUnknown", err)
	}
	h, _ := account.NewHash("another password")
	update(t, l, func(tx ledger.Tx) error { return account.SetPassword(tx, "keeper", h) })
	if alive(second, later.Add(time.Hour)) {
		t.Error("a new password must end the sessions")
	}
}

func TestSecretsStayIn(t *testing.T) {
	l := withKeeper(t)
	var session, token string
	update(t, l, func(tx ledger.Tx) (err error) {
		if session, err = account.Begin(tx, noon, "keeper"); err != nil {
			return err
		}
		token, err = account.Issue(tx, noon, "keeper", "graphs")
		return err
	})
	for _, shelf := range []string{"accounts", "sessions", "tokens"} {
		err := l.View(func(tx ledger.Tx) error {
			return tx.Each(shelf, "", "", func(key string, doc []byte) bool {
				for _, secret := range []string{session, token, "moss on old stone"} {
					if strings.Contains(key+string(doc), secret) {
						t.Errorf("shelf %s holds a secret", shelf)
					}
				}
				return true
			})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
}

func TestTokens(t *testing.T) {
	l := withKeeper(t)
	var token string
	update(t, l, func(tx ledger.Tx) (err error) {
		token, err = account.Issue(tx, noon, "keeper", "graphs")
		return err
	})
	good := func() (ok bool) {
		l.View(func(tx ledger.Tx) (err error) {
			_, ok, err = account.Bearer(tx, token)
			return err
		})
		return ok
	}
	if !good() {
		t.Fatal("a fresh token is not known")
	}
	if err := l.Update(func(tx ledger.Tx) error { _, err := account.Issue(tx, noon, "keeper", "graphs"); return err }); !errors.Is(err, account.ErrExists) {
		t.Errorf("label twice: got %v, want ErrExists", err)
	}
	update(t, l, func(tx ledger.Tx) error { return account.Revoke(tx, "keeper", "graphs") })
	if good() {
		t.Error("a revoked token still opens")
	}
	update(t, l, func(tx ledger.Tx) (err error) {
		token, err = account.Issue(tx, noon, "keeper", "graphs")
		return err
	})
	update(t, l, func(tx ledger.Tx) error { return account.Remove(tx, "keeper") })
	if good() {
		t.Error("a token outlives its account")
	}
}
