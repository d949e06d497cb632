package text

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Limit is how many septets fit one text message: 140 octets of user data
// (3GPP TS 23.040, 9.2.3.24). One character more makes two messages of it,
// and two may arrive apart, in the wrong order, or one of them never.
const Limit = 160

// The GSM 7-bit default alphabet and its extension table (3GPP TS 23.038,
// 6.2.1 and 6.2.1.1), without the escape itself. A character of the extension
// costs two septets; one outside both turns the whole message into UCS-2,
// of which only 70 fit.
const (
	basic = "@£$¥èéùìòÇ\nØø\rÅåΔ_ΦΓΛΩΠΨΣΘΞÆæßÉ !\"#¤%&'()*+,-./0123456789:;<=>?¡" +
		"ABCDEFGHIJKLMNOPQRSTUVWXYZÄÖÑÜ§¿abcdefghijklmnopqrstuvwxyzäöñüà"
	extension = "\f^{}\\[~]|€"
)

var cost = func() map[rune]int {
	m := make(map[rune]int, 140)
	for _, r := range basic {
		m[r] = 1
	}
	for _, r := range extension {
		m[r] = 2
	}
	return m
}()

// Septets is what s costs in a message; ok is false when a character of it is
// not in the alphabet (it is then counted as nothing).
func Septets(s string) (n int, ok bool) {
	ok = true
	for _, r := range s {
		c := cost[r]
		n += c
		ok = ok && c > 0
	}
	return n, ok
}

// GSM7 writes s in the GSM 7-bit alphabet: what is in it stays, accents come
// off, common signs and Cyrillic and Greek letters are spelt out, all white
// space becomes one space, and what is left (emoji, other scripts) is dropped.
func GSM7(s string) string {
	var b strings.Builder
	space := false
	put := func(t string) {
		if space && b.Len() > 0 {
			b.WriteByte(' ')
		}
		space = false
		b.WriteString(t)
	}
	for _, r := range norm.NFC.String(s) {
		if unicode.IsSpace(r) || unicode.IsControl(r) {
			space = true
			continue
		}
		if t := letter(r); t != "" {
			put(t)
		}
	}
	return b.String()
}

// letter is r in the alphabet, or "" where nothing stands for it.
func letter(r rune) string {
	if cost[r] > 0 {
		return string(r)
	}
	if t, ok := spelt[r]; ok {
		return t
	}
	if t, ok := spelt[unicode.ToLower(r)]; ok && t != "" {
		return strings.ToUpper(t[:1]) + t[1:]
	}
	var b strings.Builder
	for _, d := range norm.NFKD.String(string(r)) {
		switch {
		case unicode.Is(unicode.Mn, d):
		case cost[d] > 0:
			b.WriteRune(d)
		case spelt[d] != "":
			b.WriteString(spelt[d])
		}
	}
	return b.String()
}

// spelt is how characters outside the alphabet are written in it. Romanised as
// is common practice (no source); it need only be recognised by someone who
// knows the place.
var spelt = map[rune]string{
	'‘': "'", '’': "'", '‚': "'", '‛': "'", '′': "'", '`': "'", '´': "'", 'ʼ': "'",
	'“': "\"", '”': "\"", '„': "\"", '«': "\"", '»': "\"", '″': "\"",
	'‐': "-", '‑': "-", '‒': "-", '–': "-", '—': "-", '―': "-", '−': "-",
	'…': "...", '•': "-", '·': ".", '°': "deg", '×': "x", '÷': "/", '±': "+-",
	'µ': "u", 'μ': "u", '©': "(c)", '®': "(r)", '™': "tm", '→': "->", '¼': "1/4", '½': "1/2", '¾': "3/4",
	'ç': "c", 'á': "a", 'í': "i", 'ó': "o", 'ú': "u",
	'ł': "l", 'đ': "d", 'ð': "d", 'þ': "th", 'œ': "oe", 'ı': "i", 'ħ': "h", 'ŧ': "t", 'ŋ': "n", 'ĸ': "k", 'ə': "e",
	'а': "a", 'б': "b", 'в': "v", 'г': "g", 'д': "d", 'е': "e", 'ё': "yo", 'ж': "zh", 'з': "z", 'и': "i", 'й': "y",
	'к': "k", 'л': "l", 'м': "m", 'н': "n", 'о': "o", 'п': "p", 'р': "r", 'с': "s", 'т': "t", 'у': "u", 'ф': "f",
	'х': "kh", 'ц': "ts", 'ч': "ch", 'ш': "sh", 'щ': "shch", 'ъ': "", 'ы': "y", 'ь': "", 'э': "e", 'ю': "yu", 'я': "ya",
	'і': "i", 'ї': "yi", 'є': "ye", 'ґ': "g", 'ў': "u", 'ј': "j", 'љ': "lj", 'њ': "nj", 'ћ': "c", 'ђ': "dj", 'џ': "dz",
	'α': "a", 'β': "v", 'γ': "g", 'δ': "d", 'ε': "e", 'ζ': "z", 'η': "i", 'θ': "th", 'ι': "i", 'κ': "k", 'λ': "l",
	'ν': "n", 'ξ': "x", 'ο': "o", 'π': "p", 'ρ': "r", 'σ': "s", 'ς': "s", 'τ': "t", 'υ': "y", 'φ': "f", 'χ': "ch",
	'ψ': "ps", 'ω': "o",
}
