# make run    a demo clinic in the browser: everything a newcomer needs to see it working
# make test   every test, the browser's too; installs what they need (as root) or says what is missing
# make check  format, vet, staticcheck, errcheck, no dead code, generated pages fresh
# make build  bin/stillwet
# make bench  benchmarks
# make soak   what depends on luck, ROUNDS times: acts sent at once, with the race detector, and generated logs, flipped bits of records
#             and data files;
#             STATES states of a disk after a power cut, a fault at every call of a signing program
#             200 recorders with 50,000 acts, sent twice and out of order;
#             and a full clinic for a minute: 200 browsing, 20 recording, then 60 signing at once
# make fuzz   each fuzzed parser for FUZZTIME

GO ?= go
FUZZTIME ?= 30s
RACE ?=
ROUNDS ?= 200
STATES ?= 100000
BROWSERTEST := internal/web/browsertest

# Rooms whose tests take longest come first, so that none of them is left to run alone.
LONG := internal/training internal/store

# Rooms whose tests compute for minutes: with the race detector they take eight times as
# long. It watches what of them many ask at once, which ATONCE names.
ALONE := scenarios internal/assess/rules internal/web
ATONCE := AtOnce|FullClinic|Stopping|LargeBody|CountsOnce

.PHONY: build run test in-browser in-go check generate fresh bench soak fuzz browser axe strace clean

build:
	$(GO) build -ldflags "-s -w" -o bin/stillwet ./app

run: build
	bin/stillwet demo

# The browser's tests mostly wait for the browser, so they run beside the others; races of
# what it asks for are looked for in the room that answers.
test: browser axe strace
	@$(MAKE) --no-print-directory -j2 --output-sync=line in-browser in-go

in-browser:
	$(GO) test -timeout 19m ./$(BROWSERTEST)

in-go:
	$(GO) test $(RACE) -timeout 15m $(LONG:%=./%) $$($(GO) list ./... | grep -v -x -e stillwet/$(BROWSERTEST) $(foreach room,$(ALONE),-e stillwet/$(room)))
	$(GO) test $(RACE) -timeout 15m -run '$(ATONCE)' $(ALONE:%=./%)
	$(GO) test -timeout 15m $(ALONE:%=./%)

# The browser tests drive a headless Chromium and fail without one.
browser:
	@sh .ci/need-browser

# The tests of power cuts and failing disks record and alter what a program asks of
# the system.
strace:
	@sh .ci/need strace strace

# axe-core checks the pages for accessibility; it comes from npm at the version
# of the lock file.
axe: $(BROWSERTEST)/node_modules/axe-core/axe.min.js

$(BROWSERTEST)/node_modules/axe-core/axe.min.js: $(BROWSERTEST)/package-lock.json
	@command -v npm >/dev/null || sh .ci/need npm npm
	cd $(BROWSERTEST) && npm ci --ignore-scripts --no-audit --no-fund
	@touch $@

check: fresh
	@out=$$(gofmt -l app scenarios internal views exports); test -z "$$out" || { echo "gofmt these files:"; echo "$$out"; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) tool errcheck ./...
	@sh .ci/dead "$(GO)"

generate:
	$(GO) tool templ generate -path views
	@sh .ci/bundle "$(GO)" views/static/built


# Generated pages are committed; this fails when they are not what templ makes.
fresh:
	@sh .ci/fresh "$(GO)"

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

# make test does fewer rounds of the same: 20 of the first, 20 or 40 of the generated logs, 5,000 states,
# a fault at every thirteenth call.
soak: strace
	ROUNDS=$(ROUNDS) $(GO) test -race -count 1 -v -timeout 30m ./internal/training -run 'SentTwiceAtOnce'
	ROUNDS=$(ROUNDS) $(GO) test -count 1 -v -timeout 60m ./internal/training -run 'Flipped|AnySequenceKeeps'
	ROUNDS=$(ROUNDS) $(GO) test -count 1 -v -timeout 60m ./scenarios -run 'ModelsFollow|AnyEdits'
	ROUNDS=$(ROUNDS) $(GO) test -count 1 -v -timeout 30m ./internal/station ./internal/assess/rules -run 'LegalWork|ExpressionEngine|SetsSeeIt'
	ROUNDS=$(ROUNDS) $(GO) test -count 1 -v -timeout 30m ./internal/training -run 'TwoHundredRecorders'
	STATES=$(STATES) $(GO) test -count 1 -v -timeout 120m ./internal/store -run 'PowerCut|FailingCalls'
	ROUNDS=$(ROUNDS) $(GO) test -count 1 -v -timeout 30m ./internal/web -run 'AFullClinic'

fuzz:
	@sh .ci/fuzz "$(GO)" $(FUZZTIME)

clean:
	rm -rf bin
