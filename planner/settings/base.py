"""Settings that every way of running Notchbook shares."""

from pathlib import Path

BASE_DIR = Path(__file__).resolve().parent.parent.parent

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "django_tasks",
    "django_tasks_db",
    "planner.common",
    "planner.materials",
    "planner.styles",
    "planner.orders",
    "planner.cutting",
    "planner.sewing",
    "planner.costs",
    "planner.web",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "planner.web.security.NullCharacterMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "planner.web.whole_figures.WholeFiguresMiddleware",
    "planner.web.security.ContentSecurityPolicyMiddleware",
    "planner.common.remember.RememberMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "planner.styles.renumbered.RenumberedMiddleware",
    "planner.web.only_pressed.OnlyPressedMiddleware",
]

ROOT_URLCONF = "planner.web.urls"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "planner.web.context.workroom",
            ],
        },
    },
]

# Field groups come from templates/django/forms/field.html.
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

WSGI_APPLICATION = "planner.web.wsgi.application"

AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]

LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"

LANGUAGE_CODE = "en-gb"
USE_I18N = True
USE_TZ = True

STATIC_URL = "static/"
STATICFILES_DIRS = [BASE_DIR / "static"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The queue lives in the same database; the worker is `manage.py worker`.
TASKS = {"default": {"BACKEND": "django_tasks_db.DatabaseBackend", "QUEUES": ["default"]}}

# Bounds on what one request may carry; a file upload has its own. The page that fills a batch sends two boxes for
# each size of every open order line: this is enough for a thousand lines in ten sizes.
DATA_UPLOAD_MAX_MEMORY_SIZE = 8_000_000
DATA_UPLOAD_MAX_NUMBER_FIELDS = 21_000

SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
