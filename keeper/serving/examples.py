"""Files for a machine that serves the book to a club: made for its names and folders, printed.

Several processes of the web server on ports of their own, PostgreSQL behind them, a proxy that ends
TLS before them. They are a beginning: look through what is printed before it is used.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Place:
    """Where the book is served.

    Attributes:
        host: the name that people type.
        program, data: the folders of the program and of the book.
        account: of the system, under which it runs.
        processes: of the web server.
        first_port: of the first process; the others have the next ones.
    """

    host: str
    program: str
    data: str
    account: str
    processes: int
    first_port: int

    @property
    def ports(self) -> range:
        """The ports of all processes."""
        return range(self.first_port, self.first_port + self.processes)


def environment(place: Place) -> str:
    """Return the variables of every process, for `/etc/keptlines.env`, to be readable by root."""
    return f"""\
KEPTLINES_DATA={place.data}
KEPTLINES_SERVE=host
KEPTLINES_HOSTS={place.host}
KEPTLINES_PROXY=1
KEPTLINES_LOG=json
DATABASE_URL=postgres:///keptlines
"""


def service(place: Place) -> str:
    """Return the systemd unit of a process, `/etc/systemd/system/keptlines@.service`."""
    server = (
        f"{place.program}/.venv/bin/waitress-serve --listen=127.0.0.1:%i --threads=8 "
        "--max-request-body-size=67108864 keeper.wsgi:application"
    )
    return f"""\
# sudo systemctl enable --now {" ".join(f"keptlines@{port}" for port in place.ports)}
[Unit]
Description=Keptlines on port %i
After=network.target postgresql.service

[Service]
User={place.account}
WorkingDirectory={place.program}
EnvironmentFile=/etc/keptlines.env
ExecStart={server}
Restart=on-failure
{_confined(place)}"""


def _confined(place: Place) -> str:
    """What both units end with: how little a process of ours may do, and when it is started."""
    return f"""\
NoNewPrivileges=true
PrivateTmp=true
ProtectSystem=strict
ProtectHome=true
ReadWritePaths={place.data}

[Install]
WantedBy=multi-user.target
"""


def worker(place: Place) -> str:
    """Return the systemd unit of a worker, `/etc/systemd/system/keptlines-worker@.service`."""
    return f"""\
# With KEPTLINES_QUEUE=database in /etc/keptlines.env:
# sudo systemctl enable --now keptlines-worker@1
[Unit]
Description=Keptlines worker %i
After=network.target postgresql.service

[Service]
User={place.account}
WorkingDirectory={place.program}
EnvironmentFile=/etc/keptlines.env
ExecStart={place.program}/.venv/bin/python manage.py work
Restart=always
# It ends what it is doing first.
TimeoutStopSec=600
{_confined(place)}"""


def nginx(place: Place) -> str:
    """Return the site of an nginx that ends TLS, with certificates that are there already."""
    servers = "\n".join(f"    server 127.0.0.1:{port};" for port in place.ports)
    return f"""\
upstream keptlines {{
    least_conn;
{servers}
}}

server {{
    listen 443 ssl;
    server_name {place.host};
    ssl_certificate /etc/letsencrypt/live/{place.host}/fullchain.pem;
    ssl_certificate_key /etc/letsencrypt/live/{place.host}/privkey.pem;
    client_max_body_size 64m;

    location / {{
        proxy_pass http://keptlines;
        proxy_set_header Host $host;
        proxy_set_header X-Forwarded-Proto $scheme;
        proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for;
        proxy_read_timeout 120s;
    }}
    location /metrics/ {{ return 404; }}
}}
"""


def caddy(place: Place) -> str:
    """Return the site of a Caddy, which fetches its certificate by itself."""
    return f"""\
{place.host} {{
    request_body {{
        max_size 64MB
    }}
    respond /metrics/* 404
    reverse_proxy {" ".join(f"127.0.0.1:{port}" for port in place.ports)} {{
        lb_policy least_conn
        health_uri /ready/
        health_headers {{
            Host {place.host}
        }}
    }}
}}
"""


FILES = {
    "environment": environment,
    "service": service,
    "worker": worker,
    "nginx": nginx,
    "caddy": caddy,
}
