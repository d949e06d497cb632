package main

import "lentic/store/bench/tanks"

// stream cuts what a source gives into commits of any size.
type stream struct {
	src  *tanks.Source
	held []tanks.Reading
	used int
}

func (b *bench) stream(tankCount int, stamps tanks.Stamps, start int64) *stream {
	return &stream{src: tanks.NewSource(tankCount, stamps, start, b.seed)}
}

// next is valid until the next.
func (s *stream) next(n int) []tanks.Reading {
	if len(s.held)-s.used < n {
		s.held = append(s.held[:0], s.held[s.used:]...)
		s.used = 0
		for len(s.held) < n {
			s.held = s.src.Next(s.held)
		}
	}
	s.used += n
	return s.held[s.used-n : s.used]
}
