#!/bin/sh
# The tests judge our results by programs that others wrote; see docs/sources.md.
# Installs those that are missing where Debian's or Ubuntu's apt is at hand.
set -eu

missing=""
need() { command -v "$1" >/dev/null 2>&1 || missing="$missing $2"; }
need abc2midi abcmidi         # reference reader of ABC
need pdftotext poppler-utils  # reads our PDFs as a stranger would
need ffmpeg ffmpeg            # reference loudness meter and MP3 decoder; makes files as phones do
need fluidsynth fluidsynth    # plays takes that we did not voice...
need rubberband rubberband-cli  # reference for slow-down
need sox sox                  # reference for filters and levels
need zbarimg zbar-tools       # reads our QR codes as a telephone would
need chromium chromium        # shows our pages as a reader's browser does
# ...with a small General MIDI soundfont.
[ -e /usr/share/sounds/sf2/TimGM6mb.sf2 ] || missing="$missing timgm6mb-soundfont"

[ -n "$missing" ] || exit 0
if ! command -v apt-get >/dev/null 2>&1; then
    echo "The tests need these programs; please install them:$missing" >&2
    exit 1
fi
as_root=""
[ "$(id -u)" -eq 0 ] || as_root="sudo"
echo "Installing for the tests:$missing"
$as_root apt-get update -qq
# shellcheck disable=SC2086
DEBIAN_FRONTEND=noninteractive $as_root apt-get install -y -qq --no-install-recommends $missing >/dev/null
