package daemon

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// longestSocket is how long a socket's path may be, in bytes: 107 on Linux, and
// a zero behind it (unix(7)).
const longestSocket = len(syscall.RawSockaddrUnix{}.Path) - 1

// socketPath is a path to the control socket that the system takes. Where the
// true one is too long for it, the data directory is opened and the path leads
// over the open file; release closes it once the path has been used.
func socketPath(data string) (path string, release func(), err error) {
	path = filepath.Join(data, socketName)
	if len(path) <= longestSocket {
		return path, func() {}, nil
	}
	dir, err := os.Open(data)
	if err != nil {
		return "", nil, fmt.Errorf("control socket: %w", err)
	}
	short := fmt.Sprintf("/proc/self/fd/%d", dir.Fd())
	if _, err := os.Stat(short); err != nil { // no Linux, or no /proc
		dir.Close()
		return "", nil, fmt.Errorf("control socket: %s has %d bytes, and this system takes %d: keep the data in a directory with a shorter path (data:)", path, len(path), longestSocket)
	}
	return filepath.Join(short, socketName), func() { dir.Close() }, nil
}
