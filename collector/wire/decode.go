package wire

// Decode says what is in a message. It may be called by many at once.
func (r *Registry) Decode(m Message) Decoded {
	var d Decoded
	return d
}
