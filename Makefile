# The only entry points; people and CI call these.
#   make demo         light the demonstration board; prints the path of the report, in build/demo
#   make test         all tests, by WORKERS=2 processes; sampled ones with few photons
#   make check        format, lint, types, direction of imports
#   make docs         write the generated pages again
#   make proof        the sampled tests with all their photons, z-scores in tests/proof.csv; after a change to transport
#   make mutants      change one thing at a time in a room and see whether a test notices; ROOM=look NUMBER=60 SEED=1
#   make fuzz         damaged files into every reader; SECONDS=3600 SEED=1
#   make reference    trace the scenes of an independent renderer finely, and record tests/reference/RESULTS.md
#   make bench-speed  time each step, the whole, growth, re-asking and the race with a path tracer, here
#   make bench-gpu    time tracing on an NVIDIA GPU; needs the extra gpu
# Each makes .venv when it is missing. PYTHON=... picks the interpreter, 3.11 or newer.

BIN := .venv/bin
DEMO := examples/harbour-keepsake
WORKERS := 2

.PHONY: demo test check docs proof mutants fuzz reference bench-speed bench-gpu clean

demo: .venv/installed-demo
	@$(BIN)/paneglow light $(DEMO) --out build/demo || [ $$? -eq 1 ]  # 1: done, and the board has flaws, on purpose

test: .venv/installed-dev
	$(BIN)/pytest --numprocesses $(WORKERS) --dist loadfile

check: .venv/installed-dev
	$(BIN)/ruff format --check
	$(BIN)/ruff check
	$(BIN)/mypy
	$(BIN)/lint-imports
	PYTHONPATH=tools $(BIN)/python -m docpages --check

docs: .venv/installed-dev
	PYTHONPATH=tools $(BIN)/python -m docpages

proof: .venv/installed-dev
	$(BIN)/python tools/proof.py

ROOM := look
NUMBER := 60
SEED := 1
mutants: .venv/installed-dev
	$(BIN)/python tools/mutants.py --room $(ROOM) --number $(NUMBER) --seed $(SEED)

SECONDS := 600
fuzz: .venv/installed-dev
	$(BIN)/python tools/fuzz.py --seconds $(SECONDS) --seed $(SEED)

reference: .venv/installed-dev
	PYTHONPATH=tests $(BIN)/python -m reference.compare

bench-speed: .venv/installed-demo
	$(BIN)/python benchmarks/speed.py
	$(BIN)/python benchmarks/whole.py
	$(BIN)/python benchmarks/steps.py
	$(BIN)/python benchmarks/growth.py
	$(BIN)/python benchmarks/response_speed.py --cases 4
	$(BIN)/python benchmarks/race.py

bench-gpu: .venv/installed-demo
	$(BIN)/pip install --quiet '.[gpu]'
	$(BIN)/python benchmarks/gpu_speed.py

.venv/installed-demo .venv/installed-dev: .venv/installed-%: pyproject.toml tools/install.sh tools/constraints.txt
	@tools/install.sh $*

clean:
	rm -rf .venv build
