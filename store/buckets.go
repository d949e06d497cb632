package store

// The top of the file. FORMAT.md describes each.
var (
	metaBucket      = []byte("meta")
	seriesBucket    = []byte("series")
	boundsBucket    = []byte("bounds")
	logBucket       = []byte("log")
	blocksBucket    = []byte("blocks")
	rollupsBucket   = []byte("rollups")
	damagedBucket   = []byte("damaged")
	conflictsBucket = []byte("conflicts")
	asideBucket     = []byte("aside")
	unclaimedBucket = []byte("unclaimed")
	refusedBucket   = []byte("refused")
	ledgerBucket    = []byte("ledger")
)

var buckets = [][]byte{
	metaBucket, seriesBucket, boundsBucket, logBucket, blocksBucket, rollupsBucket, damagedBucket,
	conflictsBucket, asideBucket, unclaimedBucket, refusedBucket, ledgerBucket,
}
