package store

// The top of the file. FORMAT.md describes each.
var (
	metaBucket      = []byte("meta")
	seriesBucket    = []byte("series")
	readingsBucket  = []byte("readings")
	damagedBucket   = []byte("damaged")
	conflictsBucket = []byte("conflicts")
	asideBucket     = []byte("aside")
	unclaimedBucket = []byte("unclaimed")
	refusedBucket   = []byte("refused")
	ledgerBucket    = []byte("ledger")
)

var buckets = [][]byte{
	metaBucket, seriesBucket, readingsBucket, damagedBucket, conflictsBucket,
	asideBucket, unclaimedBucket, refusedBucket, ledgerBucket,
}
