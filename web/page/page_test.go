package page

import (
	"io"
	"testing"
)

func TestRenderEveryPage(t *testing.T) {
	for _, p := range []Page{&Rounds{}, &TankPage{}, &AlarmPage{}, &Before{}, &Intake{}, &Texts{}, &Visit{}, &Login{}, &Problem{}} {
		if err := Render(io.Discard, p); err != nil {
			t.Error(err)
		}
	}
}
