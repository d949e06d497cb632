// Package proof holds no code that runs: its tests are the proofs of what the
// store promises. They know nothing of the store but what it exports, so they
// hold for every format.
package proof
