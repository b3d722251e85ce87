from __future__ import annotations

from shop.models import Shop


def the_shop() -> Shop:
    shop, _ = Shop.objects.get_or_create(pk=1, defaults={"name": "Our shop"})
    return shop
