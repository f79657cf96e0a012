"""How gunicorn serves the pages: `gunicorn -c python:clinic.platform.gunicorn_conf clinic.wsgi`."""

workers = 2
threads = 4
worker_class = "gthread"
preload_app = True  # both workers share the memory of what is loaded once
worker_tmp_dir = "/dev/shm"  # noqa: S108 - the heartbeat's file must not wait for a busy disk
timeout = 60
graceful_timeout = 20
keepalive = 5
max_requests = 5000
max_requests_jitter = 500
loglevel = "warning"
control_socket_disable = True
