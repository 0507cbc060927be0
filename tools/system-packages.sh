#!/bin/sh
# Tests drive a real browser and measure PDFs: make sure Debian's chromium and poppler-utils are there.
missing=""
command -v chromium >/dev/null 2>&1 || missing="$missing chromium"
command -v pdftoppm >/dev/null 2>&1 || missing="$missing poppler-utils"
[ -z "$missing" ] && exit 0
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
  echo "installing for the tests:$missing"
  apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $missing >/dev/null && exit 0
fi
echo "the tests need:$missing. Install with: sudo apt-get install$missing" >&2
exit 1
