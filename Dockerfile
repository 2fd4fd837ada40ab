FROM python:3.11-slim

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1
RUN useradd --create-home --uid 10001 gambrel && install -d -o gambrel /data
WORKDIR /app

COPY . .
RUN pip install -c requirements.lock -e .

ENV GAMBREL_DATA=/data HASHED_STATIC=1
# The key and folder of the build stay in the build: each shop makes its own in /data.
RUN GAMBREL_DATA=/tmp/build SECRET_KEY=build python manage.py collectstatic --noinput && rm -rf /tmp/build

USER gambrel
VOLUME /data
EXPOSE 8000
CMD ["gunicorn", "shop.wsgi:application", "--bind", "0.0.0.0:8000", "--workers", "2", "--threads", "4", "--no-control-socket", "--access-logfile", "-"]
