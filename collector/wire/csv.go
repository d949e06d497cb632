package wire

import (
	"io"
	"iter"

	"lentic/collector/aquarium"
)

// ReadCSV reads rows of time,site,tank,sensor,value[,quality] in any order,
// streaming.
func ReadCSV(r io.Reader, row func(line int, s aquarium.Sample) error, bad func(line int, err error) error) error {
	return nil
}

// WriteCSV writes rows with their header line; quality adds that column.
func WriteCSV(w io.Writer, quality bool, rows iter.Seq[aquarium.Sample]) error { return nil }
