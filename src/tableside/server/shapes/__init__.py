"""What travels between server and pages: one pydantic model a thing, and OpenAPI from them."""
