package page

// Login asks who is there. Its form posts name, password and next to /login.
type Login struct {
	Frame
	Problem string // why the last try failed; empty: first try
	Name    string // as typed
	Next    string // the path to go to afterwards
}

func (*Login) name() string { return "login" }

// Problem is the page shown instead of another: what is wrong, and what next.
type Problem struct {
	Frame
	Status   int    // of HTTP
	Sentence string // "There is no tank of that name at Quillmere Library."
	Next     string // "Perhaps it was renamed in the configuration."
	Link     string // a path; empty: none
	LinkText string
}

func (*Problem) name() string { return "problem" }
