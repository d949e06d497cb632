package peer

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"time"

	"github.com/prometheus/prometheus/model/labels"
	"github.com/prometheus/prometheus/storage"
	"github.com/prometheus/prometheus/tsdb"
	"github.com/prometheus/prometheus/tsdb/chunkenc"

	"lentic/store/bench/tanks"
)

// TSDB is the time series library. It never syncs its log by itself after a
// commit, so Commit does.
type TSDB struct {
	db      *tsdb.DB
	dir     string
	refs    []storage.SeriesRef
	iter    chunkenc.Iterator
	segment *os.File
	number  int
	sync    bool
}

// NewTSDB makes or opens the folder; without sync a commit is not durable.
func NewTSDB(dir string, sync bool) (*TSDB, error) {
	o := tsdb.DefaultOptions()
	o.RetentionDuration = (20 * 365 * 24 * time.Hour).Milliseconds()
	o.MaxBlockDuration = (31 * 24 * time.Hour).Milliseconds()
	db, err := tsdb.Open(dir, nil, nil, o, nil)
	if err != nil {
		return nil, err
	}
	return &TSDB{db: db, dir: dir, sync: sync}, nil
}

func (p *TSDB) Name() string {
	if p.sync {
		return "tsdb + fdatasync"
	}
	return "tsdb"
}

func (p *TSDB) Commit(rs []tanks.Reading) error {
	if err := p.Load(rs); err != nil || !p.sync {
		return err
	}
	return p.syncLog()
}

// Load commits without a sync.
func (p *TSDB) Load(rs []tanks.Reading) error {
	app := p.db.Appender(context.Background())
	for _, r := range rs {
		for r.Series >= len(p.refs) {
			p.refs = append(p.refs, 0)
		}
		var ls labels.Labels
		if p.refs[r.Series] == 0 {
			ls = seriesLabels(r.Series)
		}
		ref, err := app.Append(p.refs[r.Series], ls, r.At, r.Value)
		if err != nil {
			return errors.Join(fmt.Errorf("series %d at %d: %w", r.Series, r.At, err), app.Rollback())
		}
		p.refs[r.Series] = ref
	}
	return app.Commit()
}

func seriesLabels(series int) labels.Labels {
	k := tanks.Key(series)
	return labels.FromStrings("__name__", "reading", "site", string(k.Site), "tank", string(k.Tank), "sensor", string(k.Sensor), "n", strconv.Itoa(series))
}

// syncLog syncs the segment of the log that is being written. The library
// itself syncs those it has finished.
func (p *TSDB) syncLog() error {
	newest := p.segment == nil
	for newest || p.exists(p.number+1) {
		if err := p.openNewest(); err != nil {
			return err
		}
		newest = false
	}
	return syscall.Fdatasync(int(p.segment.Fd()))
}

func (p *TSDB) segmentPath(n int) string {
	return filepath.Join(p.dir, "wal", fmt.Sprintf("%08d", n))
}

func (p *TSDB) exists(n int) bool {
	_, err := os.Lstat(p.segmentPath(n))
	return err == nil
}

func (p *TSDB) openNewest() error {
	names, err := os.ReadDir(filepath.Join(p.dir, "wal"))
	if err != nil {
		return err
	}
	p.number = -1
	for _, name := range names { // checkpoints have other names
		if n, err := strconv.Atoi(name.Name()); err == nil {
			p.number = max(p.number, n)
		}
	}
	if p.segment != nil {
		p.segment.Close()
	}
	p.segment, err = os.Open(p.segmentPath(p.number))
	return err
}

// Compact moves everything from memory and log into blocks.
func (p *TSDB) Compact() error {
	head := p.db.Head()
	if err := p.db.CompactHead(tsdb.NewRangeHead(head, head.MinTime(), head.MaxTime())); err != nil {
		return err
	}
	return p.db.Compact(context.Background())
}

// BlockBytes is the length of all files in the blocks.
func (p *TSDB) BlockBytes() (n int64) {
	for _, b := range p.db.Blocks() {
		n += b.Size()
	}
	return n
}

func (p *TSDB) Raw(series int, from, to int64, fn func(at int64, v float64)) error {
	q, err := p.db.Querier(from, to-1)
	if err != nil {
		return err
	}
	defer q.Close()
	set := q.Select(context.Background(), false, nil, labels.MustNewMatcher(labels.MatchEqual, "n", strconv.Itoa(series)))
	for set.Next() {
		p.iter = set.At().Iterator(p.iter)
		for p.iter.Next() == chunkenc.ValFloat {
			fn(p.iter.At())
		}
		if err := p.iter.Err(); err != nil {
			return err
		}
	}
	return set.Err()
}

func (p *TSDB) Close() error {
	if p.segment != nil {
		p.segment.Close()
	}
	return p.db.Close()
}
