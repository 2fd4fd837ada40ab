"""Forms of the shop itself, and the base of every form."""

from __future__ import annotations

from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.forms.renderers import DjangoTemplates

from shop.models import Person, Role, Station
from shop.people import Facts


class HouseRenderer(DjangoTemplates):
    """Rows with label, help and error sentence together."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"


NAME_KEYBOARD = {"autocapitalize": "none", "spellcheck": "false"}


class HouseForm(forms.Form):
    """A form in the house look. `sender_id` is the hidden field that the `sender_id` tag writes."""

    default_renderer = HouseRenderer

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)

    @property
    def sender_id(self) -> UUID:
        """The id this form was sent with; a new one where none, or nothing readable, came."""
        try:
            return UUID(str(self.data.get("sender_id", "")))
        except ValueError:
            return uuid4()


class LoginForm(HouseForm):
    username = forms.CharField(
        label="Username",
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", **NAME_KEYBOARD}),
        error_messages={"required": "Type your username."},
    )
    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=200,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
        error_messages={"required": "Type your password."},
    )


class EnrollForm(HouseForm):
    name = forms.CharField(
        label="What this device is called",
        help_text="Written on its back, say: Cooler tablet.",
        max_length=40,
        error_messages={"required": "Give the device a name that people recognize."},
    )
    station = forms.ModelChoiceField(
        label="Where it stands",
        queryset=Station.objects.all(),
        empty_label="Choose the station",
        error_messages={"required": "Choose the station it stands at."},
    )


class PersonForm(HouseForm):
    first_name = forms.CharField(
        label="First name", max_length=150, error_messages={"required": "Type the name others call them by."}
    )
    last_name = forms.CharField(label="Last name", max_length=150, required=False)
    username = forms.CharField(
        label="Username",
        max_length=40,
        help_text="Small letters, digits, dots and hyphens.",
        validators=[RegexValidator(r"^[a-z0-9][a-z0-9.-]*$", "Use small letters, digits, dots, hyphens.")],
        widget=forms.TextInput(attrs={"autocomplete": "off", **NAME_KEYBOARD}),
        error_messages={"required": "Type a username."},
    )
    role = forms.ChoiceField(
        label="Role",
        choices=Role.choices,
        initial=Role.FLOOR,
        help_text="The floor sees no prices and no phone numbers.",
    )
    language = forms.ChoiceField(label="Language", choices=[("en", "English"), ("es", "Español")])
    password = forms.CharField(
        label="Password",
        required=False,
        strip=False,
        max_length=200,
        help_text="Eight characters or more. Owner and counter need one.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
    )
    pin = forms.CharField(
        label="PIN",
        required=False,
        help_text="Four to eight digits, for the shop's own devices.",
        validators=[RegexValidator(r"^[0-9]{4,8}$", "A PIN has four to eight digits.")],
        widget=forms.PasswordInput(
            attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": "8"}, render_value=True
        ),
    )

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.person = person
        if person is not None:
            self.fields["password"].help_text = "Leave it empty to keep the one there is."
            self.fields["pin"].help_text = "Leave it empty to keep the one there is."

    def clean_pin(self) -> str:
        pin: str = self.cleaned_data["pin"]
        if pin and (len(set(pin)) == 1 or pin in "0123456789" or pin in "9876543210"):
            raise ValidationError("This PIN is the first that anybody would try. Choose another.")
        return pin

    def clean_password(self) -> str:
        password: str = self.cleaned_data["password"]
        if password:
            validate_password(password)
        return password

    def clean(self) -> dict[str, Any]:
        facts = super().clean() or {}
        has_password = bool(facts.get("password")) or bool(self.person and self.person.has_usable_password())
        if (
            facts.get("role") in (Role.OWNER, Role.COUNTER)
            and not has_password
            and "password" not in self.errors
        ):
            self.add_error("password", "Owner and counter log in with a password. Give one.")
        return facts

    def facts(self) -> Facts:
        """What was typed, once the form is valid."""
        return Facts(**self.cleaned_data)
