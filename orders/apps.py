from django.apps import AppConfig


class OrdersConfig(AppConfig):
    name = "orders"

    def ready(self) -> None:
        from orders import printing
        from orders.ledger import checks, triggers  # noqa: F401

        printing.register()
