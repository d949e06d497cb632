package daemon

import (
	"iter"

	"lentic/collector/aquarium"
)

// ahead is the same samples, read on a goroutine of its own while those before them
// are judged. That has ended when the samples have, or nobody asks for more.
func ahead(samples iter.Seq[aquarium.Sample]) iter.Seq[aquarium.Sample] {
	return func(yield func(aquarium.Sample) bool) {
		full, free := make(chan []aquarium.Sample, batches), make(chan []aquarium.Sample, batches)
		for range batches {
			free <- make([]aquarium.Sample, 0, batchSamples)
		}
		go fill(samples, full, free)
		more := true
		for b := range full {
			if !more {
				continue
			}
			for i := 0; i < len(b) && more; i++ {
				more = yield(b[i])
			}
			if more {
				free <- b[:0]
			} else {
				close(free)
			}
		}
	}
}

// fill fills what is free with samples until there are no more, or free is closed.
func fill(samples iter.Seq[aquarium.Sample], full chan<- []aquarium.Sample, free <-chan []aquarium.Sample) {
	defer close(full)
	open := <-free
	for s := range samples {
		if open = append(open, s); len(open) < batchSamples {
			continue
		}
		full <- open
		var asked bool
		if open, asked = <-free; !asked {
			return
		}
	}
	full <- open
}
