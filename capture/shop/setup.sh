#!/bin/sh
# Makes what a shop's server needs on Debian: certificates, the broker's users and access list, and the database.
#
#   apt install mosquitto postgresql openssl
#   sudo sh setup.sh [--host NAME] [--shop NAME] MACHINE...
#
# May be run again, also with more machines: what is there stays. Passwords are in FOLDER/passwords, a file each.
#
#   --folder DIR     where certificates, passwords and lists go (/etc/mosquitto/tenths)
#   --host NAME      name by which machines reach this server (this computer's)
#   --shop NAME      first level of every topic, and name of the database (shop)
#   --port N         of the broker (8883)
#   --psql COMMAND   how to reach PostgreSQL as one who may make databases (runuser -u postgres -- psql)
#   --no-service     do not touch the system's services; use FOLDER/mosquitto.conf yourself
set -eu
umask 077

folder=/etc/mosquitto/tenths host=$(uname -n) shop=shop port=8883 service=yes
psql="runuser -u postgres -- psql"
while [ $# -gt 0 ]; do
  case $1 in
    --folder) folder=$2; shift 2 ;;
    --host) host=$2; shift 2 ;;
    --shop) shop=$2; shift 2 ;;
    --port) port=$2; shift 2 ;;
    --psql) psql=$2; shift 2 ;;
    --no-service) service=no; shift ;;
    -*) echo "setup.sh: $1: no such option" >&2; exit 2 ;;
    *) break ;;
  esac
done
for name in "$shop" "$@"; do
  case $name in
    *[!A-Za-z0-9_.-]* | "" | archive | screen | database-reader)
      echo "setup.sh: $name: a name has letters, digits, . - _, and is not archive, screen or database-reader" >&2; exit 2 ;;
  esac
done
for program in mosquitto_passwd openssl ${psql%% *}; do
  command -v "$program" >/dev/null || {
    echo "setup.sh: $program is missing: apt install mosquitto postgresql openssl" >&2; exit 2; }
done

mkdir -p "$folder/passwords"
cd "$folder"

if [ ! -e ca.crt ]; then
  openssl req -x509 -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -days 3650 -subj "/CN=$shop of $host" -keyout ca.key -out ca.crt 2>/dev/null
fi
if [ ! -e server.crt ]; then
  openssl req -newkey ec -pkeyopt ec_paramgen_curve:prime256v1 -nodes -subj "/CN=$host" -keyout server.key -out server.csr 2>/dev/null
  printf 'subjectAltName=DNS:%s,DNS:localhost,IP:127.0.0.1\n' "$host" >server.ext
  openssl x509 -req -in server.csr -CA ca.crt -CAkey ca.key -CAcreateserial -days 825 -extfile server.ext -out server.crt 2>/dev/null
  rm server.csr server.ext
fi

# A user each, and a password each that nobody has to think of.
for user in archive screen "$@"; do
  [ -s "passwords/$user" ] || openssl rand -hex 16 >"passwords/$user"
done
for file in passwords/*; do
  # who reads the database has no business at the broker
  [ "$file" = passwords/database-reader ] && continue
  printf '%s:%s\n' "${file#passwords/}" "$(cat "$file")"
done >users.new
mosquitto_passwd -U users.new
mv users.new users

cat >access <<END
# A machine writes its own recordings and reads what is asked of it; its user's name is its own name.
pattern write $shop/%u/#
pattern read $shop/%u/+/resend
pattern read $shop/%u/+/stored

user archive
topic read $shop/#
topic write $shop/+/+/resend
topic write $shop/+/+/stored

user screen
topic read $shop/#
topic write $shop/+/+/resend
END

cat >mosquitto.conf <<END
# The broker of a shop: TLS, users, and a queue on disk for an archive that is away.
listener $port
cafile $folder/ca.crt
certfile $folder/server.crt
keyfile $folder/server.key
allow_anonymous false
password_file $folder/users
acl_file $folder/access
max_inflight_messages 2000
max_queued_messages 1000000
# a picture has 4 MiB at most
max_packet_size 5000000
END
chmod 644 ca.crt server.crt

# The database: its owner is the archive; who only reads has a user of his own.
password=$(cat passwords/archive)
[ -s passwords/database-reader ] || openssl rand -hex 16 >passwords/database-reader
reader=$(cat passwords/database-reader)
(cd / && $psql -q -v ON_ERROR_STOP=1 -d postgres) <<END
SET client_min_messages = warning;
SELECT 'CREATE ROLE archive LOGIN' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'archive') \gexec
SELECT 'CREATE ROLE reader LOGIN' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'reader') \gexec
ALTER ROLE archive PASSWORD '$password';
ALTER ROLE reader PASSWORD '$reader';
SELECT 'CREATE DATABASE "$shop" OWNER archive' WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = '$shop') \gexec
END
(cd / && $psql -q -v ON_ERROR_STOP=1 -d "$shop") <<END
SET client_min_messages = warning;
CREATE EXTENSION IF NOT EXISTS pg_trgm;
GRANT USAGE, CREATE ON SCHEMA public TO archive;
GRANT SELECT ON ALL TABLES IN SCHEMA public TO reader;
ALTER DEFAULT PRIVILEGES FOR ROLE archive GRANT USAGE ON SCHEMAS TO reader;
ALTER DEFAULT PRIVILEGES FOR ROLE archive GRANT SELECT ON TABLES TO reader;
END

if [ "$service" = yes ]; then
  # The broker reads what it needs; the authority's key and the passwords stay with root.
  chown -R root: "$folder"
  chown root:mosquitto "$folder"
  chmod 750 "$folder"
  chown mosquitto: ca.crt server.crt server.key users access mosquitto.conf
  # Debian's own configuration has persistence on
  ln -sf "$folder/mosquitto.conf" /etc/mosquitto/conf.d/tenths.conf
  if [ -d /run/systemd/system ]; then
    systemctl restart mosquitto
  else
    # Debian's older script cannot start this broker: it leaves it no file for its number
    install -d -o mosquitto -g mosquitto /run/mosquitto
    echo "This system has no systemd: start the broker yourself, or again: mosquitto -d -c /etc/mosquitto/mosquitto.conf"
  fi
fi

echo "The server is ready. Copy $folder/ca.crt and its own file of $folder/passwords to each machine, then there:"
for machine in "$@"; do
  echo "  tenths publish FOLDER --broker mqtts://$machine@$host:$port/$shop --ca ca.crt --password-file $machine"
done
echo "and on this server, as root, who alone may read its passwords:"
echo "  PGPASSWORD=\$(cat $folder/passwords/archive) tenths archive --broker mqtts://archive@$host:$port/$shop \\"
echo "    --ca $folder/ca.crt --password-file $folder/passwords/archive --database postgresql://archive@localhost/$shop"
