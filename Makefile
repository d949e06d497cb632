# make demo   everything set up, the invented sites running, one address to open
# make test   everything set up, every check
# make bench  what the store is measured against, in bench.tsv; BENCH=-h tells of a
#             shorter year, single rows and another folder than /tmp
# make soak   the store's proofs at full length, an hour or so; make test has a sample
# make scorecard  every fault and healthy months on pretend tanks, twenty minutes;
#             SCORECARD=-h tells of a shorter one
# make build  bin/lentic, one static binary with the page inside
.PHONY: demo test bench soak scorecard build bundle types script-test clean

demo: build
	@bin/lentic demo

test:
	@.ci/test

bench: build
	@go -C store/bench run . -lentic "$(CURDIR)/bin/lentic" -tsv "$(CURDIR)/bench.tsv" $(BENCH)

soak: bundle
	@go test ./store/proof -count=1 -v -timeout 6h -args -proof.scale=700
	@go test ./cmd/lentic -run 'TestKilled|TestFailedDisk' -count=1 -v -timeout 1h -args -crash.readings=100000 -crash.kills=10 -fault.each=40

scorecard:
	@go run ./alert/scorecard $(SCORECARD)

build: bundle
	CGO_ENABLED=0 go build -trimpath -ldflags '-s -w' -o bin/lentic ./cmd/lentic

# npm only fetches the chart library and the type checker, pinned by the lock
# file; the bundle itself is built by a Go program.
web/node_modules: web/package-lock.json
	@command -v npm >/dev/null || { echo "make: npm is missing: install Node 20 or newer"; exit 1; }
	@cd web && npm ci --no-audit --no-fund --loglevel=error && touch node_modules

bundle: web/node_modules
	@go run ./web/build

types: web/node_modules
	@cd web && npx --no-install tsc --noEmit -p tsconfig.json

script-test: web/node_modules
	@cd web && npm --silent test

clean:
	rm -rf bin web/node_modules web/ui/dist/*.* 
