package store

import "os"

func writeZeros(f *os.File, size int64) error {
	zeros := make([]byte, 1<<20)
	for size > 0 {
		n, err := f.Write(zeros[:min(size, int64(len(zeros)))])
		if err != nil {
			return err
		}
		size -= int64(n)
	}
	return f.Sync()
}
