from fastapi import APIRouter

from app.records.attachment_routes import router as letters
from app.records.case_routes import router as cases
from app.records.client_routes import router as clients
from app.records.photo_routes import router as photos
from app.records.task_routes import router as tasks
from app.records.zone_routes import router as zones

router = APIRouter()
for part in (clients, cases, zones, photos, letters, tasks):
    router.include_router(part)
