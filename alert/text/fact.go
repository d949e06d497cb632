package text

import (
	"strings"
	"time"

	"lentic/collector/aquarium"
)

// saying is how a fact is told. "%" stands for its number with the unit, for its
// length of time, or for its word; "$" for its word beside a number.
type saying struct {
	alone string // as a sentence of its own
	on    string // how it goes on after one of those named in after; empty: as alone
	after string // names of facts
	less  string // for a number under zero; empty: as alone
	apart bool   // the number is a difference
	about bool   // the length of time is not known to the minute
	one   string // what is counted, where the number has no unit
	words map[string]string
}

// nobodySays is what is told of a switch that is not heard.
func nobodySays(what string) string { return "nobody says " + what }

func turned(what, on, off, unknown string) saying {
	return saying{words: map[string]string{"on": what + on, "off": what + off, "unknown": nobodySays(unknown)}}
}

// sayings are the facts by the names that package detect gives them.
var sayings = map[string]saying{
	"target":      {alone: "target %"},
	"co2":         {alone: "CO2 about %"},
	"kh":          {alone: "reckoned from KH %", after: "co2"},
	"ph":          {alone: "reckoned from pH %", on: "and from pH %", after: "kh", apart: true},
	"assumed":     {alone: "assumed: %", after: "kh", words: assumptions},
	"valve":       {words: map[string]string{"open": "the valve was told to open", "shut": "the valve was told to shut", "pulses": "the valve is told to open again and again", "unknown": nobodySays("what the valve does")}},
	"shut":        {alone: "the valve was told to shut % ago", on: "% ago", after: "valve"},
	"over":        {alone: "by its hours or the pH the valve should have been shut for %", on: "but by its hours or the pH it should have been shut for %", after: "valve"},
	"bound":       {alone: "the bound on CO2 is %", on: "the bound is %", after: "co2 kh"},
	"fell":        {alone: "pH fell by % within 5 min", apart: true},
	"float":       {words: map[string]string{"wet": "the upper float is under water"}},
	"normal":      {alone: "usually %"},
	"others":      {words: map[string]string{"running": "another filter runs", "stalled": "no other filter runs"}},
	"mains":       {alone: "mains has been back for %", words: map[string]string{"on": "mains is on"}},
	"pump":        turned("its pump is ", "on", "off", "what its pump does"),
	"run":         {alone: "has run for %", after: "pump refill need"},
	"need":        {alone: "% should have done", after: "pump run for"},
	"added":       {alone: "has brought about %", after: "pump run need"},
	"for":         {alone: "like this for %", on: "for %", after: "signs"},
	"silent":      {alone: "nothing heard for %"},
	"heard":       {alone: "something was heard from it % ago"},
	"still":       {alone: "nothing has moved for %"},
	"sensors":     {alone: "%", one: "sensor"},
	"since":       {alone: "cleaned % ago"},
	"switch":      turned("its switch is ", "on", "off", "how its switch stands"),
	"heater":      {words: map[string]string{"on": "the heater is on", "off": "the heater is off"}},
	"hours":       {alone: "its hours are %"},
	"dosed":       {alone: "dosed on % of the last seven", one: "day"},
	"room":        {alone: "the room is at %"},
	"usual":       {alone: "its usual pause takes %", words: map[string]string{"at another time": "its usual pause comes at another time"}}, // the word is an older version's
	"pauses":      {alone: "its usual pause comes about %"},
	"signs":       {alone: "signs of hands: %"},
	"fillings":    {alone: "learned from %", after: "normal", one: "filling"},
	"stored":      {alone: "% in store"},
	"off":         {alone: "its pump has been off for %"},
	"rise":        {alone: "rises %"},
	"missing":     {alone: "% have not come back"},
	"out":         turned("", "water is let out", "no water is let out", "whether water is let out"),
	"in":          turned("", "new water is let in", "no new water is let in", "whether new water is let in"),
	"made good":   {words: map[string]string{"so far": "the top-off makes it good so far"}},
	"loss":        {alone: "% lost in all"},
	"evaporation": {alone: "about % would be evaporation", on: "of which about % would be evaporation", after: "loss"},
	"may":         {alone: "no more than % when all is well"},
	"lasts":       {alone: "lasts about %", about: true},
	"days":        {alone: "learned from %", after: "evaporation normal", one: "day"},
	"filter":      {words: map[string]string{"stands": "a filter stands still meanwhile"}},
	"refill":      turned("its refill is ", "on", "off", "whether it refills"),
	"made":        {alone: "makes % now", after: "for need normal"},
	"under":       {alone: "% under its target", apart: true},
	"gain":        {alone: "CO2 rises % an hour"},
	"asked":       {alone: "gas called for over the last %"},
	"left":        {alone: "% of gas left"},
	"moved":       {alone: "has moved by % meanwhile", apart: true},
	"longest":     {alone: "never before for longer than %", after: "for"},
	"sent":        {alone: "the device seems to send %", words: map[string]string{"[degF]": "the device seems to send °F"}},
	"shift":       {alone: "the electrode seems to read % too high", less: "the electrode seems to read % too low", apart: true},
	"gas":         {alone: "by the mornings gas comes at % of its usual rate"},
	"held":        {alone: "the gas that holds it comes at % of its usual rate"},
	"night":       {alone: "the night's pH lies % over what is usual", less: "the night's pH lies % under what is usual", apart: true},
	"open":        {alone: "the valve is open % of the time"},
	"before":      {alone: "usually %", after: "open"},
	"apart":       {alone: "sensor $ reads % more than the others let expect", less: "sensor $ reads % less than the others let expect", apart: true},
	"steps":       {alone: "steps by % up when $ is switched on", less: "steps by % down when $ is switched on", apart: true},
	"late":        {alone: "follows the water % late"},
	"doubt": {words: map[string]string{"probe or KH": "a KH test or a second meter tells a drifting probe from harder water",
		"probe, KH or gas":      "a second meter and a KH test tell a drifting probe and harder water from gas that itself comes more slowly: look at the bubble counter, the diffuser and the cylinder's gauge too",
		"probe, KH or more gas": "a second meter and a KH test tell a drifting probe and softer water from gas that itself comes faster: look at the bubble counter and the regulator too",
		"hands or socket":       "a hand stops all filters at once, and so does the socket that feeds them: if nothing else shows a hand within a quarter of an hour, they are told as stalled"}},
}

// silentFacts are kept for the next watch and told to nobody.
var silentFacts = map[string]bool{"told": true}

// assumptions are what is taken for granted for want of a sensor.
var assumptions = map[string]string{
	"water at 25 Cel":     "taking the water to have 25 °C",
	"empty when it began": "taking it to have been empty at first",
	"1 l per mm":          "taking a millimetre for a litre",
}

// harmAssumes is what the time to harm takes for granted.
var harmAssumes = map[string]string{
	"rim 40 mm above the mark":     "taking the rim to be 40 mm above the mark",
	"intakes a third down":         "taking the intakes to be a third of the way down",
	"nothing comes into the store": "taking nothing to come into the store",
	"rim a tenth over full":        "taking the rim to be a tenth over full",
}

// facts are the lines the facts make, and the reading's line: a fact that goes on
// with another stands in its line.
func (v view) facts(reading string) (string, []string) {
	lines, harms := []string{reading}, v.harm() != ""
	told := map[string]int{} // in which line a fact stands
	for _, f := range v.Evidence.Facts {
		w, ok := sayings[f.Name]
		if !ok || v.equals(f, v.Evidence.Expected) || harms && v.toldByHarm(f) {
			continue
		}
		if reading != "" && v.equals(f, &v.Evidence.Value) { // the reading says it
			told[f.Name] = 0
			continue
		}
		at, on := w.goesOn(told)
		switch s := w.say(f, on); {
		case s == "":
			continue
		case on:
			lines[at] += ", " + s
		default:
			lines = append(lines, s)
			at = len(lines) - 1
		}
		told[f.Name] = at
	}
	return lines[0], lines[1:]
}

// toldByHarm reports whether the line on harm says it.
func (v view) toldByHarm(f aquarium.Fact) bool {
	return f.Name == "lasts" || f.Name == "assumed" && harmAssumes[f.Word] != ""
}

// equals reports whether a fact is the same number again.
func (v view) equals(f aquarium.Fact, x *float64) bool {
	return x != nil && f.Word == "" && f.Unit != "" && f.Unit == v.Evidence.Unit && f.Value == *x
}

// say is the fact in words, or "" where it has none.
func (w saying) say(f aquarium.Fact, on bool) string {
	form, value := w.alone, f.Word
	if on && w.on != "" {
		form = w.on
	}
	if s, ok := w.words[f.Word]; ok {
		return s
	}
	if f.Word == "" || f.Unit != "" {
		if w.less != "" && f.Value < 0 {
			form = w.less
		}
		value = w.number(f)
	}
	if form == "" || value == "" {
		return ""
	}
	return strings.Replace(strings.Replace(form, "%", value, 1), "$", f.Word, 1)
}

func (w saying) number(f aquarium.Fact) string {
	switch d, span := duration(f.Value, f.Unit); {
	case span && d < time.Second:
		return ""
	case span && f.Unit == "d":
		return count(int(f.Value+0.5), "day", "days")
	case span && w.about:
		return about(d)
	case span:
		return spell(d)
	case w.apart:
		return apart(f.Value, f.Unit)
	case w.one != "":
		return count(int(f.Value), w.one, w.one+"s")
	}
	return strings.TrimSpace(strings.TrimPrefix(written(f.Value, f.Unit), "+"))
}

// goesOn finds the last line that has one of the facts it goes on with.
func (w saying) goesOn(told map[string]int) (line int, ok bool) {
	for name := range strings.FieldsSeq(w.after) {
		if at, is := told[name]; is {
			line, ok = max(line, at), true
		}
	}
	return line, ok
}
