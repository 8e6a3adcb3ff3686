# The set-up shared by deploy/try and deploy/test; they source it. It makes .venv in this checkout from the lock,
# and sees to the Debian packages a window needs. Nothing is written outside the checkout but through apt.
# shellcheck shell=bash disable=SC2034

set -uo pipefail
root=$(cd -- "$(dirname -- "$(readlink -f -- "${BASH_SOURCE[0]}")")/.." && pwd -P)
me=deploy/$(basename -- "$0")
venv=$root/.venv
python=$venv/bin/python
stamp=$venv/boathook-stamp
unfinished=$venv/boathook-unfinished
unset PYTHONHOME PYTHONPATH PIP_TARGET PIP_PREFIX
export PIP_USER=0 PIP_DISABLE_PIP_VERSION_CHECK=1 PIP_NO_INPUT=1
export XDG_CACHE_HOME=$root/build/cache # where the graphics driver keeps what it compiled

# What a window needs from Debian; the names differ by release only for libmtdev1 (see package_name).
window_packages=(libgl1 libegl1 libgles2 libgl1-mesa-dri libmtdev1 fonts-b612)
hidden_packages=(xvfb xdotool)
disk_needed_mb=600 # measured: 280 MB stay, 200 MB more while installing

say() { printf '%s: %s\n' "$me" "$*"; }

# fail SENTENCE: what was seen, what it means, what to do.
fail() {
  printf '%s: %s\n' "$me" "$*" >&2
  exit 1
}

# usage_error SENTENCE
usage_error() {
  printf '%s: %s\n' "$me" "$*" >&2
  exit 2
}

# explain DOING OUTPUT: ends with one sentence about a failed installation, read from what the program printed.
explain() {
  local doing=$1 output=$2
  case $output in
    *"No space left on device"* | *"enough free space"* | *"Disk quota exceeded"*)
      fail "The disk is full while $doing: free about $disk_needed_mb MB and run this again." ;;
    *"CERTIFICATE_VERIFY_FAILED"* | *"certificate verification failed"* | *"not valid yet"*)
      fail "The server's certificate was not accepted while $doing; this machine's clock says $(date '+%F %H:%M'): set the clock if that is wrong, else ask who runs this network for its certificate, then run this again." ;;
    *"DO NOT MATCH THE HASHES"*)
      fail "A downloaded package differs from the one named in deploy/*.lock, so it was not installed: run this again on another network, and report it if that does not help." ;;
    *"Temporary failure"* | *"Failed to establish a new connection"* | *"Could not resolve"* | \
      *"Network is unreachable"* | *"Could not connect"* | *"onnection timed out"* | *"Max retries exceeded"* | \
      *"Read timed out"* | *"onnection broken"* | *"Failed to fetch"* | *"Name or service not known"*)
      fail "No network while $doing: connect this machine to the internet and run this again (once set up, no network is needed)." ;;
    *"Could not get lock"* | *"Unable to lock"* | *"Unable to acquire the dpkg"*)
      fail "Another program has been installing software for five minutes (apt is locked): let it end, then run this again." ;;
    *"dpkg was interrupted"*)
      fail "An earlier installation of Debian packages was interrupted: run 'sudo dpkg --configure -a', then this again." ;;
    *"Unable to locate package"* | *"no installation candidate"*)
      fail "This system does not offer: $(grep -oP "Unable to locate package \K\S+|Package '\K[^']+" <<<"$output" | sort -u | tr '\n' ' ')- Boathook is made for Debian 12 and 13 and Raspberry Pi OS; use one of them, or check the sources that apt is set to." ;;
    *)
      printf '%s\n' "$output" | tail -n 15 >&2
      fail "Something unforeseen stopped it while $doing; its last words are above: mend that and run this again." ;;
  esac
}

# ---- Debian packages ----

# package_name NAME: what this release calls it.
package_name() {
  local release
  release=$(. /etc/os-release 2>/dev/null && echo "${VERSION_CODENAME-}")
  if [[ $1 == libmtdev1 && $release != bookworm ]]; then echo libmtdev1t64; else echo "$1"; fi
}

is_installed() { dpkg-query -W -f='${db:Status-Status}\n' "$1" 2>/dev/null | grep -qx installed; }

# as_root COMMAND…: as root at once, else through sudo (which has been asked for by then).
as_root() { if ((EUID == 0)); then "$@"; else sudo -- "$@"; fi; }

# run_apt NAME…: tries again for five minutes while another program holds apt's locks. Prints what apt said.
run_apt() {
  local said deadline=$((SECONDS + 300)) told=no
  while true; do
    if said=$(export LC_ALL=C DEBIAN_FRONTEND=noninteractive
      as_root apt-get update 2>&1 </dev/null && as_root apt-get install --yes --no-install-recommends "$@" 2>&1 </dev/null); then
      return 0
    fi
    if [[ $said != *"Could not get lock"* && $said != *"Unable to acquire the dpkg"* ]] || ((SECONDS > deadline)); then
      printf '%s\n' "$said"
      return 1
    fi
    [[ $told == yes ]] || say "Another program is installing software just now (apt is locked); waiting for it." >&2
    told=yes
    sleep 3
  done
}

# need_packages NAME…: installs those that are missing; asks before it uses sudo, and asks nothing if none is missing.
need_packages() {
  local name missing=() answer said
  if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
    say "This is not Debian, so its packages are not checked; a window needs what Debian calls: $*"
    return
  fi
  for name in "$@"; do
    name=$(package_name "$name")
    is_installed "$name" || missing+=("$name")
  done
  ((${#missing[@]} > 0)) || return 0
  local commands="apt-get update && sudo apt-get install --yes --no-install-recommends ${missing[*]}"
  if ((EUID != 0)); then
    command -v sudo >/dev/null ||
      fail "Debian packages are missing and this user may not install them (there is no sudo): as root run 'apt-get install ${missing[*]}', then run this again."
    say "These Debian packages are missing: ${missing[*]}. They would be installed with"
    printf '    sudo %s\n' "$commands"
    [[ -t 0 ]] || fail "Nobody is there to say yes to that (no keyboard is attached): run that command, then this again."
    read -r -p "Run it now? [y/N] " answer || answer=no
    [[ ${answer,,} == y || ${answer,,} == yes ]] || fail "Not without them: run that command when it suits you, then this again."
    sudo -v || fail "sudo did not let this user install packages: ask who looks after this machine to run the command above, then run this again."
  fi
  say "Installing Debian packages: ${missing[*]}"
  said=$(run_apt "${missing[@]}") || explain "installing Debian packages" "$said"
}

# ---- Python and the environment ----

# look_at_python PROGRAM: prints "fit PATH VERSION", "no-venv PATH VERSION", "wrong PATH VERSION", or nothing if it does not run.
look_at_python() {
  "$1" -I - 2>/dev/null <<'PYTHON'
import struct, sys
fit = (3, 11) <= sys.version_info[:2] <= (3, 13) and struct.calcsize("P") == 8
try:
    import ensurepip, venv  # Debian packs these two apart
except ImportError:
    fit = fit and None
word = {True: "fit", None: "no-venv", False: "wrong"}[fit]
print(word, "%d.%d" % sys.version_info[:2], getattr(sys, "_base_executable", sys.executable))
PYTHON
}

# choose_python: sets base_python to python3 if it is fit, else to the newest that is.
choose_python() {
  local program word version path seen="" half=""
  case $(uname -m) in
    x86_64 | aarch64) ;;
    *) fail "This machine is of the kind $(uname -m), for which there is no ready-made Kivy: use 64-bit Raspberry Pi OS or Debian on x86-64 or arm64." ;;
  esac
  for program in python3 python3.13 python3.12 python3.11; do
    read -r word version path < <(look_at_python "$program") || continue
    case $word in
      fit) base_python=$path && return 0 ;;
      no-venv) [[ -n $half ]] || half="$version $path" ;;
      wrong) seen="$seen $version" ;;
    esac
  done
  if [[ -n $half ]]; then
    read -r version path <<<"$half"
    [[ $path == /usr/bin/* ]] ||
      fail "$path lacks its venv module, so no environment can be made with it: install Python anew with it (on Debian: sudo apt-get install python3 python3-venv), then run this again."
    need_packages "python$version-venv"
    read -r word version path < <(look_at_python "$path")
    [[ $word == fit ]] || fail "$path still lacks its venv module: install the Debian package python$version-venv, then run this again."
    base_python=$path
    return 0
  fi
  [[ -z $seen ]] || fail "Python here is$seen (or a 32-bit one), and Boathook needs 3.11, 3.12 or 3.13 on a 64-bit system: install one of them (Debian 12 and 13 have it as python3), then run this again."
  fail "No Python was found, and Boathook needs 3.11, 3.12 or 3.13: install it (on Debian: sudo apt-get install python3 python3-venv), then run this again."
}

# The stamp says for which locks, and where, the environment was made: a later lock or a moved checkout is noticed.
wanted_stamp() {
  cat -- "$root/deploy/requirements.lock" "$root/deploy/requirements-dev.lock" "$root/pyproject.toml" | sha256sum | cut -d' ' -f1
  printf '%s\n' "$root"
}

# is_ready run|test: an environment made for the tests serves both.
is_ready() {
  local level rest
  [[ ! -e $unfinished && -x $venv/bin/boathook ]] && "$python" -c '' 2>/dev/null || return 1
  { read -r level && rest=$(cat); } <"$stamp" 2>/dev/null || return 1
  [[ ($level == "$1" || $level == test) && $rest == "$(wanted_stamp)" ]]
}

# install_into_venv DOING PIP-OPTION…
install_into_venv() {
  local doing=$1 said
  shift
  # Its passing files too stay in the checkout: /tmp is small where it is kept in memory.
  mkdir -p -- "$venv/tmp"
  said=$(cd -- "$root" && TMPDIR=$venv/tmp "$python" -m pip install --quiet --progress-bar off --cache-dir "$venv/cache" "$@" 2>&1 </dev/null) ||
    explain "$doing" "$said"
}

# make_environment run|test: from nothing, from a half-made one, or up to the present lock.
make_environment() {
  local lock=$root/deploy/requirements.lock said free
  [[ $1 == test ]] && lock=$root/deploy/requirements-dev.lock
  [[ -w $root && (! -e $venv || -w $venv) ]] ||
    fail "The user $(id -un) may not write in this checkout (perhaps it was set up with sudo): run 'sudo chown -R \"\$USER\" \"$root\"', then this again."
  free=$(df -Pm -- "$root" | awk 'NR == 2 { print $4 }')
  ((free >= disk_needed_mb)) ||
    fail "Only $free MB are free on this disk, and setting up takes up to $disk_needed_mb MB: free some and run this again."
  if [[ -e $unfinished ]]; then
    say "An earlier set-up was interrupted; finishing it."
  fi
  if [[ -e $unfinished ]] || ! look_at_python "$python" | grep -q '^fit' || was_moved; then
    choose_python
    # What was downloaded already is kept, everything else is made anew.
    [[ ! -e $venv ]] || find "$venv" -mindepth 1 -maxdepth 1 ! -name cache ! -name "${unfinished##*/}" -exec rm -rf -- {} +
    if ! mkdir -p -- "$venv" || ! : >"$unfinished"; then
      fail "$venv cannot be written: mend that and run this again."
    fi
    say "Making the environment .venv with Python at $base_python"
    said=$("$base_python" -m venv "$venv" 2>&1) || explain "making the environment" "$said"
  fi
  : >"$unfinished"
  rm -f -- "$stamp"
  say "Installing the Python packages of ${lock#"$root/"} into .venv (at most 70 MB to download; minutes on a small machine)"
  install_into_venv "installing Python packages" --require-hashes --only-binary=:all: --requirement "$lock"
  install_into_venv "installing Boathook itself" --no-deps --no-build-isolation --editable .
  { echo "$1" && wanted_stamp; } >"$stamp" || fail "$stamp cannot be written: free some disk space and run this again."
  rm -rf -- "$venv/cache" "$venv/tmp" "$unfinished"
}

was_moved() { [[ -e $stamp ]] && [[ $(tail -n 1 -- "$stamp") != "$root" ]]; }

# prepare run|test: holds a shared lock on the checkout from here to the end of the command, an exclusive one while
# installing, so that no command changes the environment under another.
prepare() {
  exec 9<"$root/deploy"
  while true; do
    hold shared
    if is_ready "$1"; then return; fi
    hold exclusive
    is_ready "$1" || make_environment "$1"
  done
}

# hold shared|exclusive: takes the lock of the checkout, and says so if it has to wait.
hold() {
  flock "--$1" --nonblock 9 && return
  say "Another deploy command is at work in this checkout; waiting for it to end."
  flock "--$1" 9
}

# dying_with_me COMMAND…: ends it too when this script is ended, however that happens.
dying_with_me() { setpriv --pdeathsig TERM -- "$@"; }

# take_folder NAME: a folder build/NAME, or build/NAME-2 and so on while another run uses the first; sets folder.
# It is held through file 7, also by a program that takes this script's place.
take_folder() {
  local number
  for number in "" -2 -3 -4 -5; do
    folder=$root/build/$1$number
    if ! mkdir -p -- "$folder" || ! exec 7<"$folder"; then
      fail "The folder $folder cannot be made: mend that and run this again."
    fi
    if flock --nonblock 7; then return; fi
  done
  fail "Five runs are open in this checkout: end one, then run this again."
}
