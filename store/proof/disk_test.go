package proof

import (
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// disk is a file system of which it is known what has been synced and what has
// not: the events of a child are done to it, and the power is cut between two
// of them.
//
// What is synced is there after the cut. Of what is not, each write may be
// there or not, or some of its sectors; whether the name of a file is there is
// decided for the changes of names in their order, as journalling file systems
// keep it.
type disk struct {
	names   map[string]*inode // as the process sees them
	durable map[string]*inode // as they are after a cut at least
	journal []func(map[string]*inode)
	open    map[int64]*opened
	lies    bool // about its syncs: it does none
}

type inode struct {
	durable []byte
	pending []change
	folder  bool
}

type opened struct {
	*inode
	path string
	at   int64 // where the next write goes
}

// change is a write or, without bytes, a new length.
type change struct {
	at     int64
	data   []byte
	length bool
}

func newDisk() *disk {
	return &disk{names: map[string]*inode{}, durable: map[string]*inode{}, open: map[int64]*opened{}}
}

// hold puts a file there that has been synced.
func (d *disk) hold(path string, b []byte) {
	n := &inode{durable: slices.Clone(b)}
	d.names[path], d.durable[path] = n, n
}

// rename makes a change of names, which is not synced.
func (d *disk) rename(fn func(map[string]*inode)) {
	fn(d.names)
	d.journal = append(d.journal, fn)
}

// do does an event.
func (d *disk) do(e *event) {
	if e.errno != "" {
		return
	}
	switch e.call {
	case "openat":
		d.openat(e)
	case "close":
		delete(d.open, e.number(0))
	case "pwrite64":
		if f := d.open[e.number(0)]; f != nil {
			f.pending = append(f.pending, change{at: e.number(3), data: e.data[:e.ret]})
		}
	case "write": // one after another, into a file that was new
		if f := d.open[e.number(0)]; f != nil {
			f.pending = append(f.pending, change{at: f.at, data: e.data[:e.ret]})
			f.at += e.ret
		}
	case "copy_file_range", "sendfile": // from where the last one ended
		in, out := d.open[e.number(0)], d.open[e.number(2)]
		if e.call == "sendfile" {
			in, out = d.open[e.number(1)], d.open[e.number(0)]
		}
		if in == nil || out == nil || e.ret <= 0 {
			return
		}
		b := in.cut(kept, nil)[in.at:][:e.ret]
		out.pending = append(out.pending, change{at: out.at, data: b})
		in.at, out.at = in.at+e.ret, out.at+e.ret
	case "ftruncate":
		if f := d.open[e.number(0)]; f != nil {
			f.pending = append(f.pending, change{at: e.number(1), length: true})
		}
	case "fsync", "fdatasync":
		d.sync(d.open[e.number(0)])
	case "renameat", "renameat2":
		from, to := d.resolve(e.args[0], e.args[1]), d.resolve(e.args[2], e.args[3])
		d.rename(func(m map[string]*inode) { m[to] = m[from]; delete(m, from) })
	case "linkat":
		from, to := d.resolve(e.args[0], e.args[1]), d.resolve(e.args[2], e.args[3])
		d.rename(func(m map[string]*inode) { m[to] = m[from] })
	case "unlinkat":
		path := d.resolve(e.args[0], e.args[1])
		d.rename(func(m map[string]*inode) { delete(m, path) })
	case "mkdirat":
		path := d.resolve(e.args[0], e.args[1])
		d.rename(func(m map[string]*inode) { m[path] = &inode{folder: true} })
	}
}

// resolve is a path that may be relative to an open folder.
func (d *disk) resolve(dirfd, path string) string {
	if fd, err := strconv.ParseInt(dirfd, 10, 64); err == nil && !filepath.IsAbs(path) && d.open[fd] != nil {
		return filepath.Join(d.open[fd].path, path)
	}
	return filepath.Clean(path)
}

func (d *disk) openat(e *event) {
	path := d.resolve(e.args[0], e.args[1])
	n := d.names[path]
	switch {
	case n != nil && strings.Contains(e.args[2], "O_TRUNC"):
		n.pending = append(n.pending, change{length: true})
	case n == nil && strings.Contains(e.args[2], "O_CREAT"):
		n = &inode{}
		d.rename(func(m map[string]*inode) { m[path] = n })
	case n == nil:
		n = &inode{folder: true} // that was there before, or something else that nobody writes to
	}
	d.open[e.ret] = &opened{n, path, 0}
}

// sync makes a file's changes durable, or the names when it is a folder.
func (d *disk) sync(f *opened) {
	if f == nil || d.lies {
		return
	}
	if f.folder {
		for _, fn := range d.journal {
			fn(d.durable)
		}
		d.journal = nil
	}
	for _, c := range f.pending {
		f.durable = c.applyTo(f.durable)
	}
	f.pending = nil
}

func (c *change) applyTo(b []byte) []byte {
	if c.length {
		b = slices.Grow(b, max(0, int(c.at)-len(b)))
		n := len(b)
		b = b[:c.at]
		if int(c.at) > n {
			clear(b[n:])
		}
		return b
	}
	if end := int(c.at) + len(c.data); end > len(b) {
		grown := change{at: int64(end), length: true}
		b = grown.applyTo(b)
	}
	copy(b[c.at:], c.data)
	return b
}

// fate is what becomes of what was not synced.
type fate int

const (
	dropped fate = iota
	kept
	torn      // all but the last, and of that some sectors
	reordered // any of it
)

func (f fate) String() string { return [...]string{"dropped", "kept", "torn", "reordered"}[f] }

const sector = 512

// cut gives the files of a folder as they are after a power cut.
func (d *disk) cut(dir string, how fate, rnd *rand.Rand) map[string][]byte {
	names := maps.Clone(d.durable)
	journal := d.journal
	switch how {
	case dropped:
		journal = nil
	case torn, reordered:
		journal = journal[:rnd.IntN(len(journal)+1)]
	}
	for _, fn := range journal {
		fn(names)
	}
	files := map[string][]byte{}
	for path, n := range names {
		if filepath.Dir(path) == dir && n != nil && !n.folder {
			files[filepath.Base(path)] = n.cut(how, rnd)
		}
	}
	return files
}

func (n *inode) cut(how fate, rnd *rand.Rand) []byte {
	b := slices.Clone(n.durable)
	for i := range n.pending {
		c := &n.pending[i]
		switch {
		case how == dropped:
		case how == kept, how == torn && i < len(n.pending)-1:
			b = c.applyTo(b)
		case how == torn:
			b = c.tear(b, rnd)
		default:
			switch rnd.IntN(3) {
			case 0:
				b = c.applyTo(b)
			case 1:
				b = c.tear(b, rnd)
			}
		}
	}
	return b
}

// tear writes some sectors of a write: the first few, or any.
func (c *change) tear(b []byte, rnd *rand.Rand) []byte {
	if c.length {
		return b
	}
	first := rnd.IntN(2) == 0
	few := rnd.IntN(len(c.data)/sector + 1)
	for at := 0; at < len(c.data); at += sector {
		if first && at/sector >= few || !first && rnd.IntN(2) == 0 {
			continue
		}
		s := change{at: c.at + int64(at), data: c.data[at:min(at+sector, len(c.data))]}
		b = s.applyTo(b)
	}
	return b
}

// lay writes files into a folder.
func lay(dir string, files map[string][]byte) error {
	for name, b := range files {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			return err
		}
	}
	return nil
}
