package training

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"slices"
	"strconv"
	"strings"
)

// A browser in which somebody signed in keeps a cookie that says so: the
// browser's own number and a seal for each account, the newest sign-in first; what
// is too many drops off the end. It opens nothing; it only gives the account's owner
// a lane of her own.
const (
	// mostKnown is how many accounts one browser is known for: a tablet that a whole
	// clinic shares. The cookie is then 3,476 characters long; with its name and
	// what it says of itself browsers keep 4,096.
	mostKnown    = 150
	browserChars = 26
	sealChars    = 22
)

// readKnown takes the cookie apart; anything that is not one of ours is no browser.
func readKnown(cookie string) (browser string, seals []string) {
	parts := strings.Split(cookie, ".")
	if len(cookie) > browserChars+mostKnown*(sealChars+1) || len(parts[0]) != browserChars {
		return "", nil
	}
	return parts[0], parts[1:]
}

// knownIn is the browser when the account was signed in in it, "" otherwise. It
// asks the same of an unknown name's account, which is empty.
func (s *Service) knownIn(ctx context.Context, cookie string, a Account) (string, error) {
	browser, seals := readKnown(cookie)
	if browser == "" {
		return "", nil
	}
	want, err := s.seal(ctx, browser, a)
	if err != nil {
		return "", err
	}
	for _, seal := range seals {
		if hmac.Equal([]byte(seal), []byte(want)) {
			return browser, nil
		}
	}
	return "", nil
}

// remember is the browser's cookie with the account as its newest.
func (s *Service) remember(ctx context.Context, cookie string, a Account) (string, error) {
	browser, seals := readKnown(cookie)
	if browser == "" {
		browser = rand.Text()
	}
	seal, err := s.seal(ctx, browser, a)
	if err != nil {
		return "", err
	}
	seals = slices.DeleteFunc(seals, func(old string) bool { return old == seal })
	seals = append([]string{seal}, seals...)
	return strings.Join(append([]string{browser}, seals[:min(len(seals), mostKnown)]...), "."), nil
}

// Remember is remember for whoever has just chosen a password.
func (s *Service) Remember(ctx context.Context, actor Actor, cookie string) (string, error) {
	a, err := s.Records.AccountOf(ctx, actor.Person.ID)
	if err != nil {
		return "", err
	}
	return s.remember(ctx, cookie, a)
}

// seal is void with the account's next generation: a new password, a closing.
func (s *Service) seal(ctx context.Context, browser string, a Account) (string, error) {
	secret, err := s.Records.DoorSecret(ctx)
	if err != nil {
		return "", err
	}
	h := hmac.New(sha256.New, []byte(secret))
	h.Write([]byte(strings.Join([]string{"known browser", browser, a.PersonID, strconv.Itoa(a.Generation)}, "\x00")))
	return base64.RawURLEncoding.EncodeToString(h.Sum(nil)[:16]), nil
}
