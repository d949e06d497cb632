package detect

// Names of the facts of causes of the water's whereabouts.
const (
	FactFillings = "fillings"    // how many fillings what is usual rests on
	FactStored   = "stored"      // what the reservoir holds, l
	FactOff      = "off"         // how long the pump has been off, min
	FactRise     = "rise"        // how fast it rises, in the evidence's unit per hour
	FactMissing  = "missing"     // water that has not come back, l
	FactOut      = "out"         // word: on, off or unknown; what lets old water out
	FactIn       = "in"          // word: likewise, new water in
	FactLoss     = "loss"        // what is lost in all, l/h
	FactAir      = "evaporation" // what of it the air is expected to take, l/h
	FactMay      = "may"         // the most it would have been when all is well, in the unit given
	FactStill    = "still"       // how long nothing has moved, min
	FactLasts    = "lasts"       // how long what is left lasts, min
	FactMadeGood = "made good"   // word: so far, where the top-off brings in what is lost
	FactLearned  = "days"        // from how many days what is usual was learned
	FactFilter   = "filter"      // word: stands, where a filter stands still meanwhile
	FactRefill   = "refill"      // word: on, off or unknown; as commanded
	FactFloat    = "float"       // word: wet, where the upper float is
	FactMade     = "made"        // what the reservoir's unit makes, l/h
)
