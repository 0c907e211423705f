from fastapi import APIRouter

from app.pigments.recipe_routes import router as recipes
from app.pigments.shelf_routes import router as shelf

router = APIRouter()
for part in (shelf, recipes):
    router.include_router(part)
