// Package broker is the MQTT broker in the daemon, for premises where there is
// none: devices connect to lentic itself, and the acknowledgement a device
// gets means that its readings are on disk.
//
// It takes what is published and hands it on; it distributes nothing, keeps no
// message and grants no subscription. Each acknowledgement is held back until
// told, and written in the order received on that connection, as MQTT demands.
// A connection with too much unacknowledged is not read from until the disk has
// caught up; nothing is dropped.
package broker
