package peer

import (
	"database/sql"
	"errors"
	"fmt"
	"strings"

	_ "github.com/mattn/go-sqlite3" // SQLite itself through cgo: a driver translated to Go would be slower

	"lentic/store/bench/tanks"
)

// SQLite keeps one row a reading, ordered by series and time, in WAL mode.
type SQLite struct {
	db        *sql.DB
	one, many *sql.Stmt
	args      []any
}

// rowsAtOnce is how many rows one statement inserts: crossing into C and
// through database/sql is then paid once for all of them.
const rowsAtOnce = 100

// NewSQLite makes or opens the file for writing. Without sync nothing is synced
// before the file is closed, for loading.
func NewSQLite(path string, sync bool) (*SQLite, error) {
	full := "OFF"
	if sync {
		full = "FULL"
	}
	p, err := open(path, full)
	if err != nil {
		return nil, err
	}
	if err := p.prepare(); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	return p, nil
}

// OpenSQLite opens a file that is there, for reading, and does no more than it
// must.
func OpenSQLite(path string) (*SQLite, error) { return open(path, "FULL") }

func open(path, sync string) (*SQLite, error) {
	db, err := sql.Open("sqlite3", fmt.Sprintf("file:%s?_journal_mode=WAL&_synchronous=%s", path, sync))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(1)
	return &SQLite{db: db}, nil
}

func (p *SQLite) prepare() (err error) {
	const rollup = ` (series INTEGER NOT NULL, at INTEGER NOT NULL, n INTEGER NOT NULL, low REAL NOT NULL, high REAL NOT NULL, total REAL NOT NULL, PRIMARY KEY (series, at)) WITHOUT ROWID`
	for _, q := range []string{
		`CREATE TABLE IF NOT EXISTS reading (series INTEGER NOT NULL, at INTEGER NOT NULL, value REAL NOT NULL, PRIMARY KEY (series, at)) WITHOUT ROWID`,
		`CREATE TABLE IF NOT EXISTS rollup0` + rollup, `CREATE TABLE IF NOT EXISTS rollup1` + rollup,
	} {
		if _, err := p.db.Exec(q); err != nil {
			return err
		}
	}
	const insert = `INSERT OR IGNORE INTO reading VALUES `
	if p.one, err = p.db.Prepare(insert + `(?,?,?)`); err != nil {
		return err
	}
	p.many, err = p.db.Prepare(insert + strings.Repeat(`(?,?,?),`, rowsAtOnce-1) + `(?,?,?)`)
	return err
}

func (p *SQLite) Name() string { return "SQLite" }

func (p *SQLite) Commit(rs []tanks.Reading) error {
	tx, err := p.db.Begin()
	if err != nil {
		return err
	}
	defer tx.Rollback()
	many, one := tx.Stmt(p.many), tx.Stmt(p.one)
	for len(rs) > 0 {
		stmt, n := one, 1
		if len(rs) >= rowsAtOnce {
			stmt, n = many, rowsAtOnce
		}
		p.args = p.args[:0]
		for _, r := range rs[:n] {
			p.args = append(p.args, r.Series, r.At, r.Value)
		}
		if _, err := stmt.Exec(p.args...); err != nil {
			return err
		}
		rs = rs[n:]
	}
	return tx.Commit()
}

func (p *SQLite) Load(rs []tanks.Reading) error { return p.Commit(rs) }

// Shrink moves the log into the file and gives its space back.
func (p *SQLite) Shrink() error {
	_, err := p.db.Exec(`PRAGMA wal_checkpoint(TRUNCATE)`)
	return err
}

func (p *SQLite) Raw(series int, from, to int64, fn func(at int64, v float64)) error {
	rows, err := p.db.Query(`SELECT at, value FROM reading WHERE series = ? AND at >= ? AND at < ? ORDER BY at`, series, from, to)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var at int64
		var v float64
		if err := rows.Scan(&at, &v); err != nil {
			return err
		}
		fn(at, v)
	}
	return rows.Err()
}

// Sums lets SQLite itself fold raw readings into buckets.
func (p *SQLite) Sums(series int, from, to, width int64, fn func(Sum)) error {
	return p.fold(`SELECT at / ?1, count(*), min(value), max(value), sum(value) FROM reading
		WHERE series = ?2 AND at >= ?3 AND at < ?4 GROUP BY 1`, series, from, to, width, fn)
}

// Rollup fills one of two tables with sums of the given width from the raw
// readings.
func (p *SQLite) Rollup(table int, width int64) error {
	_, err := p.db.Exec(fmt.Sprintf(`INSERT INTO rollup%d SELECT series, at / ?1 * ?1, count(*), min(value), max(value), sum(value)
		FROM reading GROUP BY 1, 2`, table), width)
	return err
}

// RolledUp folds such a table into buckets.
func (p *SQLite) RolledUp(table, series int, from, to, width int64, fn func(Sum)) error {
	return p.fold(fmt.Sprintf(`SELECT at / ?1, sum(n), min(low), max(high), sum(total) FROM rollup%d
		WHERE series = ?2 AND at >= ?3 AND at < ?4 GROUP BY 1`, table), series, from, to, width, fn)
}

func (p *SQLite) fold(query string, series int, from, to, width int64, fn func(Sum)) error {
	rows, err := p.db.Query(query, width, series, from, to)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		var s Sum
		if err := rows.Scan(&s.At, &s.Count, &s.Min, &s.Max, &s.Sum); err != nil {
			return err
		}
		s.At *= width
		fn(s)
	}
	return rows.Err()
}

func (p *SQLite) Close() error { return p.db.Close() }
