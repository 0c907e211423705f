"""The page about trusting the studio's certificate, and the certificate, for devices that reach the service already."""

from fastapi import APIRouter, Request, Response

from app.platform.pages import show
from app.platform.routing import Here
from app.studio.access import NotFound, Public
from app.studio.trust import trust_of

router = APIRouter()

# Without a file name: some tablets offer to install only what is not sent as a download.
DER, PEM = "application/x-x509-ca-cert", "application/x-pem-file"


@router.get("/trust")
def trust_page(request: Request, service: Here, _: Public) -> Response:
    return show(request, "studio/trust.html", trust=trust_of(service.settings))


@router.get("/trust/studio-ca.crt")
def certificate_der(service: Here, _: Public) -> Response:
    trust = trust_of(service.settings)
    if trust is None:
        raise NotFound
    return Response(trust.der, media_type=DER)


@router.get("/trust/studio-ca.pem")
def certificate_pem(service: Here, _: Public) -> Response:
    trust = trust_of(service.settings)
    if trust is None:
        raise NotFound
    return Response(trust.pem, media_type=PEM)
