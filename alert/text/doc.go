// Package text is the wording of alarms and nothing else: what a telephone
// shows at three in the morning, what the page and the mail say, and what to
// do first.
//
// A message must be understood by someone who has just woken up and is not at
// the tank. So it names the place, says what is wrong in words, gives the one
// number that proves it, and asks for one act that can do no harm. It keeps to
// one text message of the GSM 7-bit alphabet, whatever people call their tanks.
//
// What an alarm rests on, and what it was held not to be, is told in plain
// sentences where there is room: on the page and in the mail (see Grounds).
//
// Every function is pure and may be called by many at once. Facts of the
// evidence are found by the names that package detect gives them; a fact that
// is missing costs its words and nothing else.
package text
