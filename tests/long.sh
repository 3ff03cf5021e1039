#!/usr/bin/env bash
# The tests that are too long for every run: before a release, and after work on what they look at. Arguments go to pytest.
exec bash "$(dirname "$0")/run.sh" -m long -n 2 --dist loadfile tests "$@"
