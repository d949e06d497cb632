package config

// look gathers the warnings of a file that has no mistakes.
func (p *parse) look() {}
