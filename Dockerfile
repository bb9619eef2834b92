# One image for every process of a public service; docker-compose.yml says which does what.
FROM python:3.11-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1
WORKDIR /app

COPY requirements.lock ./
RUN pip install --disable-pip-version-check --require-hashes -r requirements.lock

COPY manage.py pyproject.toml ./
COPY survey survey
COPY api api
COPY frontend frontend
COPY fixtures fixtures

# The service owns its data folder and nothing else.
RUN useradd --system --uid 10001 --home-dir /data --shell /usr/sbin/nologin survey \
    && install -d -o survey -g survey -m 0700 /data
USER survey
ENV SURVEY_DATA=/data
VOLUME /data
EXPOSE 8000

HEALTHCHECK --interval=15s --timeout=5s --start-period=60s --retries=4 \
    CMD ["python", "manage.py", "ask_health", "web"]
CMD ["python", "manage.py", "serve", "--host", "0.0.0.0", "--runners", "0", "--no-clock"]
