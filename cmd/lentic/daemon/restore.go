package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"lentic/alert"
	"lentic/cmd/lentic/config"
	"lentic/store"
)

// Restored says what Restore did.
type Restored struct {
	store.Restored
	Closed alert.Restored
}

// Restore puts a backup in the place of the database, while no daemon runs on
// it: under a new name for the broker, and with its outbox closed, so that
// nothing is sent that is of the time since the backup.
func Restore(ctx context.Context, cfg *config.Config, src string, overwrite bool, progress Progress) (done Restored, err error) {
	if err := notRunning(ctx, cfg); err != nil {
		return done, err
	}
	if err := os.MkdirAll(cfg.Data, 0o700); err != nil {
		return done, fmt.Errorf("data directory: %w", err)
	}
	setup, err := setupOf(cfg, "")
	if err != nil {
		return done, err
	}
	done.Restored, err = store.Restore(ctx, src, filepath.Join(cfg.Data, storeName), overwrite, func(s *store.Store) error {
		desk, err := alert.New(alert.Options{Setup: setup, History: s, Ledger: s})
		if err == nil {
			done.Closed, err = desk.Restored()
		}
		return err
	}, progress)
	switch {
	case errors.Is(err, fs.ErrExist):
		err = fmt.Errorf("%w: add --overwrite to replace it", err)
	case errors.Is(err, store.ErrDamaged):
		err = fmt.Errorf("%w: lentic store check --file %s --salvage DEST makes a file of what is whole", err, src)
	}
	return done, err
}

// notRunning is an error while a daemon runs on the data directory.
func notRunning(ctx context.Context, cfg *config.Config) error {
	err := CallRunning(ctx, cfg, "", struct{}{}, nil, io.Discard)
	switch {
	case errors.Is(err, ErrNotRunning):
		return nil
	case ExitStatus(err) == Usage: // it knows no such command, and so it is there
		return fmt.Errorf("a lentic runs on %s: stop it first", cfg.Data)
	}
	return err
}
