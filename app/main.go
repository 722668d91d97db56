// Command stillwet is the whole program: a server for the clinic, and commands
// for judging logs, exporting records and checking them.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"

	"stillwet/internal/training"
)

// Exit codes besides 0: findings (or a record that does not verify), bad input.
const (
	exitFindings = 1
	exitBad      = 2
)

// errFindings ends a command that did its work and has findings to report.
var errFindings = errors.New("findings")

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(exitCode(err, os.Stderr))
}

func exitCode(err error, stderr io.Writer) int {
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errFindings):
		return exitFindings
	}
	if _, werr := fmt.Fprintln(stderr, "stillwet:", err); werr != nil {
		return exitBad // nowhere left to say it
	}
	return exitBad
}

// commands is the command line.
type commands struct {
	Serve         serveCmd         `cmd:"" help:"Run the server for a clinic."`
	Demo          demoCmd          `cmd:"" help:"Run a demo clinic of invented people."`
	Assess        assessCmd        `cmd:"" help:"Judge action logs against the procedure."`
	Model         modelCmd         `cmd:"" help:"Print the model log of a list of steps."`
	Export        exportCmd        `cmd:"" help:"Write workbooks."`
	Import        importCmd        `cmd:"" help:"Bring lists in from a spreadsheet."`
	Backup        backupCmd        `cmd:"" help:"Write the data folder into one file, also beside a running server."`
	Restore       restoreCmd       `cmd:"" help:"Make a data folder of a backup."`
	Verify        verifyCmd        `cmd:"" help:"Check the signed records against the ledger."`
	ResetEducator resetEducatorCmd `cmd:"" help:"Print a one-time link for an educator who cannot sign in any more."`
	Recheck       recheckCmd       `cmd:"" help:"Judge every stored log again and print what would differ; changes nothing."`
	Set           setCmd           `cmd:"" help:"Write a clinic's procedures, products and scenarios as files, or read them."`
	Words         wordsCmd         `cmd:"" help:"Print every word that logs, results and scripts use."`
	Version       versionCmd       `cmd:"" help:"Print the version."`
}

// run is the program without its process: arguments in, output and error out.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	var c commands
	var exit *int
	parser, err := kong.New(&c,
		kong.Name("stillwet"),
		kong.Description("Train, watch and sign off how dialysis stations are turned over. "+training.Caution),
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { exit = &code }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(streams{stdout, stderr}),
	)
	if err != nil {
		return err
	}
	kctx, err := parser.Parse(args)
	if exit != nil { // --help has said everything
		return nil
	}
	if err != nil {
		return fmt.Errorf("%w (see stillwet --help)", err)
	}
	return kctx.Run()
}

// streams are where a command writes.
type streams struct{ out, err io.Writer }
