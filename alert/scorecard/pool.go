package main

import "sync"

// jobs is all the work there is: a group of trials for each seed, interval and
// view, and the healthy tanks.
func jobs(o options, scenarios []scenario, r *report) []func() {
	var js []func()
	for n := range o.seeds {
		for _, v := range r.views {
			js = append(js, func() { r.add(tries(o.offset+uint64(n), o.all || n%4 == 0, v, scenarios)) })
		}
	}
	for n := range (o.months + stretchMonths - 1) / stretchMonths {
		months := min(stretchMonths, o.months-n*stretchMonths)
		js = append(js, func() { r.addHealthy(lives(o.offset+uint64(n), n, months, r.views)) })
	}
	return js
}

// work does the jobs, so many at a time, and returns when all are done.
func work(at int, jobs []func()) {
	next := make(chan func())
	var all sync.WaitGroup
	for range at {
		all.Go(func() {
			for job := range next {
				job()
			}
		})
	}
	for _, j := range jobs {
		next <- j
	}
	close(next)
	all.Wait()
}
