// Package config reads the operator's file and checks it whole.
//
// A file is either accepted as it stands or refused with every mistake in it,
// each with its place: file:line:column, what is wrong and what is expected,
// and the nearest valid word where one was meant. So one edit mends the file.
// No key is accepted and then ignored. What is allowed and yet deserves a
// second look is a warning; what lentic can and cannot see at each tank with
// the sensors it is given, Sight tells.
//
// The package opens no socket and starts nothing. It reads the file, the
// secrets and certificates that the file names, and the environment, all of it
// through Env.
package config
