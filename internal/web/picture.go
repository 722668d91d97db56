package web

import (
	"cmp"
	"fmt"
	"time"
)

// Stations are built in two ways, each the other's mirror image. A browser keeps which
// one stands before it, whoever signs in.
const (
	pictureCookie = "picture"
	mirrored      = "mirrored"
	asDrawn       = "drawn"
)

// choosePicture keeps how pictures are shown in this browser, and goes back to where it
// was chosen.
func choosePicture(v *visit) error {
	in, err := v.form("picture", "back")
	if err != nil {
		return err
	}
	switch in["picture"] {
	case mirrored:
		v.setCookie(v.Ctx, pictureCookie, mirrored, v.Service.Now().Time().Add(knownFor))
	case asDrawn:
		v.setCookie(v.Ctx, pictureCookie, "", time.Unix(1, 0))
	default:
		return problem{400, fmt.Sprintf("A picture is %s or %s, not %q. Reload the page and send it again.", mirrored, asDrawn, in["picture"])}
	}
	return v.goTo(cmp.Or(localPath(in["back"]), "/"))
}
