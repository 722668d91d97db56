package views

// Done is something that was just done, as it stands in the address of the page that comes then.
type Done string

// What is told so.
const (
	PapersConfirmed    Done = "papers-confirmed"
	PapersAside        Done = "papers-aside"
	PapersBrought      Done = "papers-brought"
	PaperEntered       Done = "paper-entered"
	PaperCorrected     Done = "paper-corrected"
	PaperWithdrawn     Done = "paper-withdrawn"
	ItemAdded          Done = "item-added"
	ItemChanged        Done = "item-changed"
	ItemEntered        Done = "item-entered"
	EntryCorrected     Done = "entry-corrected"
	EntryWithdrawn     Done = "entry-withdrawn"
	RequirementsKept   Done = "requirements-kept"
	SignedOffNow       Done = "signed-off"
	SignOffIsWithdrawn Done = "sign-off-withdrawn"
	EntitledNow        Done = "entitled"
	EntitlementIsEnded Done = "entitlement-ended"
	AccountClosed      Done = "account-closed"
	AccountReopened    Done = "account-reopened"
	PersonChanged      Done = "person-changed"
	ClockConfirmed     Done = "clock-confirmed"
)

// doneWords say what was done, to how many.
var doneWords = map[Done]func(n int) string{
	PapersConfirmed: func(n int) string {
		if n == 0 {
			return "The sign-offs from paper are confirmed and count now."
		}
		return count(n, "sign-off from paper is confirmed and counts now.", "sign-offs from paper are confirmed and count now.")
	},
	PapersBrought: same("The list is here. Read it, then confirm it below: until then it counts for nothing."),
	ItemEntered:   func(n int) string { return "Entered for " + count(n, "person", "people") + "." },
	PapersAside:   same("The list was set aside. Nothing of it counted."), PaperEntered: same("The sign-off from paper is entered and counts now."),
	PaperCorrected: same("Corrected. This is the sign-off that counts now."), PaperWithdrawn: same("Withdrawn. It does not count any more, and stays to be read."),
	ItemAdded: same("The item is added."), ItemChanged: same("The item is changed."),
	EntryCorrected: same("Corrected. This is the entry that counts now."), EntryWithdrawn: same("Withdrawn. The entry does not count any more, and stays to be read."),
	RequirementsKept: same("The new version is kept. It stands first in the list of versions."),
	SignedOffNow:     same("Signed off. The sign-off stands under “Sign-offs”."), SignOffIsWithdrawn: same("The sign-off is withdrawn. It stays to be read."),
	EntitledNow: same("The entitlement is granted."), EntitlementIsEnded: same("The entitlement is ended."),
	AccountClosed: same("The account is closed."), AccountReopened: same("The account is open again."), PersonChanged: same("Changed. The change stands under “Changes”."),
	ClockConfirmed: same("The server's time is confirmed."),
}

func same(text string) func(int) string { return func(int) string { return text } }

// Sentence says what was done to so many; "" for what is none of these.
func (d Done) Sentence(n int) string {
	if doneWords[d] == nil {
		return ""
	}
	return doneWords[d](n)
}
