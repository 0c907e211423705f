from fastapi import APIRouter

from app.sessions import record_routes, sheet_routes, start_routes

router = APIRouter()
router.include_router(start_routes.router)
router.include_router(sheet_routes.router)
router.include_router(record_routes.router)
