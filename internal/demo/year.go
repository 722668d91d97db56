package demo

import "stillwet/internal/training"

// year is what happens, and how many days ago. modules is how many the
// competency has.
func year(modules int) []event {
	signedOff := func(number, first, second string, daysAgo int) []event {
		return takenThrough(number, first, second, daysAgo, modules)
	}
	events := []event{{410, 6, startingSet}, {410, 7, begin}, {410, 8, confirmSet}}
	for i := 1; i < len(cast); i++ {
		events = append(events, event{min(cast[i].hired, 409), 8, hire(i)})
	}
	for _, number := range []string{preceptorNo, "0015", "0021"} {
		events = append(events, event{409, 9, entitle(number)})
	}
	// Signed off long ago or lately: current, due and lapsed.
	events = append(events, signedOff(cast[7].number, preceptorNo, "0015", 400)...) // lapsed
	events = append(events, signedOff("0015", preceptorNo, "0021", 352)...)         // due
	events = append(events, signedOff(cast[6].number, "0021", "0015", 348)...)      // due
	events = append(events, signedOff(preceptorNo, "0015", "0021", 230)...)
	events = append(events, signedOff("0021", "0015", preceptorNo, 190)...)
	events = append(events, signedOff(cast[4].number, preceptorNo, "0021", 312)...)
	events = append(events, signedOff(cast[5].number, "0021", preceptorNo, 95)...)
	events = append(events,
		// One leaves, and one leaves and comes back.
		event{75, 16, leaves(leftNo, 61)},
		event{220, 16, leaves(backNo, 200)}, event{27, 8, returns(backNo)},
		// The lapsed one has begun to come back: a demonstration that was not clean.
		event{20, 10, watched(cast[7].number, "0015", watch{forgotten: 2, meaning: training.WatchedNotMet,
			comment: "Left out: %s. We went through the surfaces again.", said: "I was called to the next station in the middle of it."})},
		event{19, 9, answersPlan("The last surfaces of the machine, in the order of the picture.", 14)},
		event{6, 10, watched(cast[9].number, "0021", watch{forgotten: 2, meaning: training.WatchedNotMet, refused: "He says that he was never shown the back of the machine.",
			comment: "Left out: %s."})},
		// Ready to sign.
		event{70, 9, practise(cast[8].number, 0, forgetsHands)},
		event{60, 9, practise(cast[8].number, modules-1, forgetsWipe)},
		event{40, 13, watched(cast[8].number, preceptorNo, watch{meaning: training.WatchedMet, comment: "Calm, complete, nothing forgotten."})},
		event{25, 13, watched(cast[8].number, "0021", watch{meaning: training.WatchedMet})},
		// Still in training: one clean demonstration at the most, one with a prompt.
		event{50, 9, practise(cast[9].number, 0, forgetsWait)},
		event{46, 9, practise(cast[9].number, min(1, modules-1), forgetsClean)},
		event{30, 14, watched(cast[9].number, "0015", watch{prompt: "take off gloves", meaning: training.WatchedPractice, comment: "One prompt at the glove change."})},
		// The new hire of the sign-in page.
		event{10, 9, practise(newHireNo, 0, forgetsHands)},
		event{10, 10, practise(newHireNo, 0, forgetsWipe)},
		event{9, 9, practise(newHireNo, 0, noSlip)},
		event{8, 9, practise(newHireNo, min(1, modules-1), forgetsClean)},
		// Some go on with what no sign-off asks for.
		event{44, 15, further(cast[9].number, 1)},
		event{43, 15, further(cast[9].number, 4)},
		event{15, 15, further(cast[8].number, 6)},
		// What they did of the course, and who looks after them.
		event{74, 9, orientation(cast[8].number, preceptorNo, 90)},
		event{72, 9, studies(cast[8].number, 0)},
		event{71, 9, studies(cast[8].number, 1)},
		event{59, 9, orientation(cast[9].number, "0015", 90)},
		event{55, 9, studies(cast[9].number, 0)},
		event{11, 9, orientation(newHireNo, preceptorNo, 90)},
		event{11, 10, studies(newHireNo, 0)},
		event{10, 8, guided(newHireNo, 0, forgetsWipe)},
		event{10, 7, searches(newHireNo)},
		event{1, 9, orientation(cast[11].number, preceptorNo, 90)},
		// What is known by date and evidence only: a class, one who is due, an entry that was put right.
		event{330, 8, asksForItems},
		event{310, 16, hadItem(pathogens, 310, 0, preceptorNo, "0015")},
		event{120, 16, hadItem(pathogens, 120, 0, educatorNo, "0021", "0042", "0057", "0063")},
		event{118, 8, correctsItem("0063", 119)},
		event{117, 8, hadItem(licence, 400, 40, "0042")},
		event{117, 9, hadItem(licence, 300, 500, "0063")},
		// What was signed off on paper before.
		event{405, 8, fromPaper("0042", 600, "")},
		event{405, 9, fromPaper("0063", 560, "Sister clinic at the harbour")},
		// A change of the procedure, which some have read.
		event{6, 7, renameSurface}, event{6, 15, reads("0015")}, event{5, 10, reads("0021")}, event{5, 11, reads("0042")}, event{4, 9, reads("0063")},
		// What the educator asked of several at once: done by all, by one of two in time, and open.
		event{125, 8, asks(theItem(pathogens), 20, "The class of this year.", "0021", "0042", "0057", "0063")},
		event{41, 8, asks(theItem(pathogens), 29, "You came after the class.", "0091", "0098")},
		event{20, 16, hadItem(pathogens, 20, 0, "0091")},
		event{1, 8, asks(aModule, 20, "Before you are watched for the first time.", newHireNo, "0109")},
		event{5, 9, asks(aDemonstration, 25, "To see whether the shelf is still wiped last.", "0042", "0057")},
		// Waits for its signatures.
		event{1, 14, watched(cast[5].number, preceptorNo, watch{})},
		event{1, 15, watched(newHireNo, preceptorNo, watch{forgotten: 2, meaning: training.WatchedPractice, chosen: true, comment: "A first try at the station, before the course is done."})},
	)
	events = append(events, observations()...)
	// What the educator set otherwise: one more is due by that, and one of the due is on leave.
	events = append(events, event{90, 8, wantsObservations}, event{12, 8, warnsEarlier}, event{2, 8, goesOnLeave(cast[6].number, 2)})
	events = append(events, passed(cast[8].number, 69, modules)...)
	events = append(events, passed(cast[9].number, 49, modules)...)
	return events
}

// passed is every module passed, a day each.
func passed(number string, daysAgo, modules int) (events []event) {
	for n := range modules {
		events = append(events, event{daysAgo - n, 11, practise(number, n, noSlip)})
	}
	return events
}

// takenThrough takes a person through everything up to the sign-off.
func takenThrough(number, first, second string, daysAgo, modules int) []event {
	events := []event{
		{daysAgo + 3 + modules, 9, practise(number, 0, forgetsGlove)},
		{daysAgo + 2, 13, watched(number, first, watch{meaning: training.WatchedMet})},
		{daysAgo + 1, 13, watched(number, second, watch{meaning: training.WatchedMet})},
		{daysAgo, 12, func(f *filler) {
			_, err := f.service.SignOff(f.ctx, f.as(first), f.key(), f.actors[number].Person.ID, f.competency.ID, training.DemoPassword)
			f.ok(err)
		}},
	}
	return append(events, passed(number, daysAgo+3+modules, modules)...)
}
