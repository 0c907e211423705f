from fastapi import APIRouter

from app.records.attachment_routes import router as letters
from app.records.capture_routes import router as capture
from app.records.card_routes import router as cards
from app.records.carry_routes import router as carrying
from app.records.case_routes import router as cases
from app.records.chart_routes import router as charts
from app.records.client_routes import router as clients
from app.records.corner_routes import router as corners
from app.records.observer_routes import router as observers
from app.records.outline_routes import router as outlines
from app.records.photo_routes import router as photos
from app.records.task_routes import router as tasks
from app.records.upload_routes import router as uploads
from app.records.zone_routes import router as zones

router = APIRouter()
for part in (clients, cases, zones, uploads, photos, outlines, carrying, observers, capture, cards, charts, corners,
             letters, tasks):
    router.include_router(part)
