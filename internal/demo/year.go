package demo

import "stillwet/internal/training"

// year is what happens, and how many days ago.
func year() []event {
	events := []event{{410, 7, begin}}
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
	events = append(events, signedOff(cast[4].number, preceptorNo, "0021", 160)...)
	events = append(events, signedOff(cast[5].number, "0021", preceptorNo, 95)...)
	events = append(events,
		// The lapsed one has begun to come back: a turnover that was not clean.
		event{20, 10, watched(cast[7].number, "0015", watch{leave: []string{"wipe cuff", "wipe call-light"}, meaning: training.WatchedNotMet,
			comment: "Cuff and call light were left out. We went through the faces again."})},
		// Ready to sign.
		event{70, 9, practise(cast[8].number, "ordinary-turnover", "rub-hands")},
		event{70, 10, practise(cast[8].number, "ordinary-turnover", "")},
		event{66, 9, practise(cast[8].number, "blood-on-the-machine", "")},
		event{60, 9, playRun(cast[8].number, true)},
		event{59, 9, playRun(cast[8].number, false)},
		event{40, 13, watched(cast[8].number, preceptorNo, watch{meaning: training.WatchedMet, comment: "Calm, complete, nothing forgotten."})},
		event{25, 13, watched(cast[8].number, "0021", watch{meaning: training.WatchedMet})},
		// Still in training: one clean demonstration, one with a prompt.
		event{50, 9, practise(cast[9].number, "ordinary-turnover", "wait")},
		event{49, 9, practise(cast[9].number, "ordinary-turnover", "")},
		event{45, 9, practise(cast[9].number, "blood-on-the-machine", "clean-front")},
		event{44, 9, practise(cast[9].number, "blood-on-the-machine", "")},
		event{41, 9, playRun(cast[9].number, false)},
		event{30, 14, watched(cast[9].number, "0015", watch{prompt: "take off gloves", meaning: training.WatchedPractice, comment: "One prompt at the glove change."})},
		event{12, 14, watched(cast[9].number, preceptorNo, watch{meaning: training.WatchedMet})},
		// The new hire of the sign-in page.
		event{10, 9, practise(newHireNo, "ordinary-turnover", "rub-hands")},
		event{10, 10, practise(newHireNo, "ordinary-turnover", "wipe-cuff")},
		event{9, 9, practise(newHireNo, "ordinary-turnover", "")},
		event{8, 9, practise(newHireNo, "blood-on-the-machine", "clean-front")},
		// Waits for its signatures.
		event{1, 14, watched(cast[5].number, preceptorNo, watch{})},
	)
	return events
}

// signedOff takes a person through everything up to the sign-off.
func signedOff(number, first, second string, daysAgo int) []event {
	return []event{
		{daysAgo + 6, 9, practise(number, "ordinary-turnover", "gloves-on")},
		{daysAgo + 6, 10, practise(number, "ordinary-turnover", "")},
		{daysAgo + 5, 9, practise(number, "blood-on-the-machine", "")},
		{daysAgo + 4, 9, playRun(number, false)},
		{daysAgo + 2, 13, watched(number, first, watch{meaning: training.WatchedMet})},
		{daysAgo + 1, 13, watched(number, second, watch{meaning: training.WatchedMet})},
		{daysAgo, 12, func(f *filler) {
			_, err := f.service.SignOff(f.ctx, f.as(first), f.key(), f.actors[number].Person.ID, f.competency.ID, training.DemoPassword)
			f.ok(err)
		}},
	}
}
