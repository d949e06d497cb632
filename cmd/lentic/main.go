// Command lentic watches planted display aquariums on other people's premises:
// it takes their readings over MQTT, keeps them, judges them, tells the right
// person what fails, and shows it all on a web page.
//
// Each command is a file of its own; this one holds what they share: signals,
// the log and the exit statuses.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"slices"
	"syscall"

	"github.com/alecthomas/kong"

	"lentic/cmd/lentic/config"
	"lentic/cmd/lentic/daemon"
	"lentic/collector/aquarium"
)

// version is what `lentic version` and the database's stamp say.
const version = "0.2.0"

type commands struct {
	Run       runCommand       `cmd:"" help:"Take readings in, keep, judge, tell and show them."`
	Demo      demoCommand      `cmd:"" help:"Show the whole job on invented, simulated tanks."`
	Check     checkCommand     `cmd:"" help:"Read the configuration and report every mistake; say what lentic can and cannot see."`
	Reload    reloadCommand    `cmd:"" help:"Have the running daemon read its configuration again."`
	Import    importCommand    `cmd:"" help:"Take a history in as readings, from CSV."`
	Export    exportCommand    `cmd:"" help:"Write stored readings as CSV."`
	Backup    backupCommand    `cmd:"" help:"Copy the database, at work or not, and read the copy back."`
	Restore   restoreCommand   `cmd:"" help:"Put a backup in the place of the database."`
	Store     storeCommand     `cmd:"" help:"Look after the database file."`
	Backtest  backtestCommand  `cmd:"" help:"Run the live detection over recorded readings; send nothing."`
	Visit     visitCommand     `cmd:"" help:"Declare that someone is working at a tank."`
	HandTest  handTestCommand  `cmd:"" help:"Record an alkalinity measured by hand."`
	Calibrate calibrateCommand `cmd:"" help:"Record what a pH electrode gave in buffers."`
	Serviced  servicedCommand  `cmd:"" help:"Note a service visit with its date; trends are shown from there."`
	Refused   refusedCommand   `cmd:"" help:"Show the last refused payloads, the unclaimed topics and the readings set aside."`
	Release   releaseCommand   `cmd:"" help:"Release readings set aside for their time, with one offset."`
	TestText  testTextCommand  `cmd:"" help:"Send one text to a person, to prove the channel end to end."`
	User      userCommand      `cmd:"" help:"Accounts and tokens for the web page."`
	Version   versionCommand   `cmd:"" help:"Print the version."`
}

// base is what every command is handed.
type base struct {
	ctx context.Context
	log *slog.Logger
}

func main() {
	os.Exit(run(os.Args[1:]))
}

// run is main without the exit: 0 done, 1 mistakes found, 2 wrong usage,
// 3 failed, 74 the disk failed, 78 configuration refused, 79 store refused.
func run(args []string) int {
	var c commands
	parser, err := kong.New(&c,
		kong.Name("lentic"),
		kong.Description("Watches planted display aquariums. It advises the people who look after them and is no substitute for interlocks on site."),
		kong.UsageOnError(),
	)
	if err != nil {
		fmt.Fprintln(os.Stderr, "lentic:", err)
		return daemon.Failed
	}
	if len(args) > 0 && args[0] == "help" { // as people ask for it
		args = append(slices.Clone(args[1:]), "--help")
	}
	k, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintln(os.Stderr, "lentic:", err)
		return daemon.Usage
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	// The second signal ends the process at once.
	go func() { <-ctx.Done(); stop() }()
	log := slog.New(slog.NewTextHandler(os.Stderr, nil))
	err = k.Run(&base{ctx: ctx, log: log})
	if err != nil {
		var p config.Problems
		if errors.As(err, &p) {
			fmt.Fprintln(os.Stderr, p.Error())
		} else {
			fmt.Fprintln(os.Stderr, "lentic:", err)
		}
	}
	return daemon.ExitStatus(err)
}

// configured is the flag of every command that needs the configuration.
type configured struct {
	Config string `short:"c" default:"lentic.yaml" placeholder:"FILE" help:"The configuration file."`
}

// load reads the configuration; its mistakes are the error.
func (c configured) load() (*config.Config, error) {
	return daemon.LoadConfig(c.Config)
}

// call runs one command on the store: through the running daemon, or on the
// file itself where none runs.
func (c configured) call(b *base, name string, args any, in io.Reader, out io.Writer) error {
	cfg, err := c.inForce()
	if err != nil {
		return err
	}
	return daemon.Call(b.ctx, cfg, version, name, args, in, out)
}

// place is the pair of flags that name a tank.
type place struct {
	Site aquarium.SiteID `required:"" placeholder:"SITE" help:"The site's id."`
	Tank aquarium.TankID `required:"" placeholder:"TANK" help:"The tank's id."`
}
