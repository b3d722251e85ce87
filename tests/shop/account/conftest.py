from tests.shop.setup.conftest import owner, owners, shop, signed_in

__all__ = ["owner", "owners", "shop", "signed_in"]
