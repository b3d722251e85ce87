FROM python:3.11-slim-bookworm AS packages
# Only the hashes decide what is installed; the tools for it stay in this stage.
RUN python -m venv /opt/venv
COPY requirements/run.txt /tmp/run.txt
RUN /opt/venv/bin/pip install --no-cache-dir --disable-pip-version-check \
    --require-hashes --requirement /tmp/run.txt

FROM python:3.11-slim-bookworm
RUN apt-get update \
    && apt-get install --yes --no-install-recommends \
        fontconfig fonts-dejavu-core fonts-freefont-ttf fonts-wqy-microhei \
        libharfbuzz-subset0 libpango-1.0-0 libpangoft2-1.0-0 \
    && rm -rf /var/lib/apt/lists/*
RUN useradd --system --uid 10001 --user-group --no-create-home --home-dir /nonexistent curewright \
    && install --directory --owner curewright --group curewright /var/lib/curewright
COPY --from=packages /opt/venv /opt/venv
ENV PATH=/opt/venv/bin:$PATH \
    PYTHONUNBUFFERED=1 \
    PYTHONDONTWRITEBYTECODE=1 \
    XDG_CACHE_HOME=/tmp/cache \
    CUREWRIGHT_VAR=/var/lib/curewright \
    CUREWRIGHT_STATIC=/srv/curewright/collected
WORKDIR /srv/curewright
COPY manage.py ./
COPY curing curing
COPY shop shop
COPY jobs jobs
COPY templates templates
COPY static static
COPY locale locale
# Gathering the static files needs settings that start, not one that is used later.
RUN CUREWRIGHT_SECRET_KEY="$(python -c 'import secrets; print(secrets.token_urlsafe(48))')" \
    CUREWRIGHT_HOSTS=build.invalid CUREWRIGHT_URL=http://build.invalid \
    CUREWRIGHT_SMTP=smtp://build.invalid CUREWRIGHT_VAR=/tmp/build \
    python manage.py collectstatic --noinput \
    && rm -rf /tmp/build
USER curewright
EXPOSE 8000
# Workers write their heartbeat to memory: on a slow disk a healthy one could look hung.
CMD ["gunicorn", "shop.wsgi", "--bind", "0.0.0.0:8000", "--worker-class", "gthread", \
     "--workers", "2", "--threads", "8", "--worker-tmp-dir", "/dev/shm", \
     "--no-control-socket", "--access-logfile", "-"]
